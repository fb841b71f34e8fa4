// Keeps the pages of the walk under way on this phone, so that it can be walked without signal.
// Network first; what is kept stands in where no answer comes. Only pages of one walk of one person, only asked for with
// GET; what is typed never lies here but in the page's own store, see walk.js.
const PAGES = "spanwell-walk-pages";
const STILLS = "spanwell-walk-stills";
const OF = "/walk/kept-for";
const A_PAGE = /^\/walk\/\d+\/(\d+\/)?$/;
const PATIENCE = 4000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  if (event.data?.forget) event.waitUntil(forget());
  if (event.data?.keep) event.waitUntil(keep(event.data));
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (event.request.mode === "navigate" && A_PAGE.test(url.pathname)) event.respondWith(page(event.request, url));
  else if (event.request.mode !== "navigate" && !url.pathname.startsWith("/walk/")) event.respondWith(still(event.request));
});

async function forget() {
  await caches.delete(PAGES);
}

async function keep({ person, walk, pages, stills }) {
  // A page without its script would lose what is typed on it, so what a page needs is kept before any page.
  const files = await caches.open(STILLS);
  for (const url of stills) if (!(await files.match(url))) await files.add(url);
  const kept = await caches.open(PAGES);
  const whose = await (await kept.match(OF))?.text();
  if (whose !== `${person} ${walk}`) await forget();
  const fresh = await caches.open(PAGES);
  await fresh.put(OF, new Response(`${person} ${walk}`));
  for (const url of pages) {
    if (await fresh.match(url)) continue;
    const answer = await fetch(url, { credentials: "same-origin", redirect: "manual" });
    if (answer.type === "opaqueredirect") return forget(); // signed out meanwhile
    if (answer.ok) await fresh.put(url, answer);
  }
}

async function page(request, url) {
  const kept = await caches.open(PAGES);
  const mine = await kept.match(url.pathname);
  const asked = fetch(request).then(async (answer) => {
    // What somebody else's sign-in shows is never put beside what is kept: the page says again whose it is.
    if (answer.ok && !url.search && mine) await kept.put(url.pathname, answer.clone());
    return answer;
  });
  if (!mine) return asked;
  const late = new Promise((done) => setTimeout(() => done(mine.clone()), PATIENCE));
  return Promise.race([asked.catch(() => mine.clone()), late]);
}

async function still(request) {
  const kept = await (await caches.open(STILLS)).match(request, { ignoreVary: true });
  if (!kept) return fetch(request);
  // A script is asked for anew where there is signal: after an upgrade the page must not run an old one.
  return fetch(request).catch(() => kept);
}
