// Nobody is signed in here: the pages of a walk that this phone kept for somebody are forgotten. What was typed stays,
// in the store of walk.js, and is sent when its writer signs in again.
globalThis.caches?.delete("spanwell-walk-pages");
