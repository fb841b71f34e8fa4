// The walk on a phone. What is typed is written into this phone's own store before anything is sent, and leaves it only
// when the plant has answered; so a dead spot, a reload or a closed tab loses nothing. The store is localStorage: it is
// written before the next line runs, a walk is a few kilobytes, and it is there on plain http too. Each answer carries
// the key its page was made with, so that one which is sent twice counts once, and how long it lay here.
const KEPT = "spanwell.walk.kept";
const TYPED = "spanwell.walk.typed ";
const PATIENCE = 8000;
const AGAIN = 15000;
const NUMBER = /^[+\-\u2212]?\d{1,12}([.,]\d{1,12})?$/;
const root = document.querySelector("[data-walk]");
const { walk, person, worker, home } = root.dataset;
const form = document.querySelector("form[data-keep]");

// What is kept

function all() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? [];
  } catch {
    return [];
  }
}

const mine = () => all().filter((one) => one.person === person);
const isMe = (one) => (other) => other.person === one.person && other.url === one.url;

function put(one) {
  localStorage.setItem(KEPT, JSON.stringify([...all().filter((other) => !isMe(one)(other)), one]));
}

function drop(one) {
  localStorage.setItem(KEPT, JSON.stringify(all().filter((other) => !(isMe(one)(other) && other.at === one.at))));
}

const clock = (at) => new Date(at).toTimeString().slice(0, 5);
const part = (name) => document.querySelector(`[data-${name}]`);

function tell(says) {
  const kept = mine();
  part("kept").hidden = kept.length === 0;
  part("others").hidden = all().length === kept.length;
  if (kept.length) {
    part("kept-at").textContent = clock(Math.min(...kept.map((one) => one.at)));
    const many = kept.filter((one) => one.number).length;
    const what = [many ? `${many} check point${many === 1 ? "" : "s"}` : "", kept.some((one) => !one.number) ? "the end of the walk" : ""];
    part("kept-what").textContent = what.filter(Boolean).join(" and ");
    const refused = kept.find((one) => one.refused);
    part("kept-says").textContent = refused ? `${refused.label} was not taken: open it and look again.` : says ?? "You can finish the walk without signal.";
  }
  for (const one of kept.filter((one) => one.walk === walk && one.number)) {
    const state = document.querySelector(`[data-stop="${one.number}"] [data-state]`);
    if (state) [state.className, state.textContent] = ["is is-saved", one.refused ? "Not taken" : "Kept on this phone"];
  }
}

const signal = (there) => (part("nosignal").hidden = there);

// Where the walk goes on. A page that was kept shows the walk as it was then; what was written here since is known here.

const DONE = "spanwell.walk.done";

function written() {
  try {
    const found = JSON.parse(localStorage.getItem(DONE)) ?? {};
    return found.walk === walk && found.person === person ? found.numbers : {};
  } catch {
    return {};
  }
}

function done({ number, skipped }) {
  if (!number) return;
  try {
    localStorage.setItem(DONE, JSON.stringify({ walk, person, numbers: { ...written(), [number]: skipped ? "Skipped" : "Done" } }));
  } catch {
    // No room: the plant knows it all the same.
  }
}

function onwards() {
  const here = Number(form.dataset.number);
  const mineDone = written();
  const left = [...document.querySelectorAll("[data-stop]")].filter(
    (one) => !("done" in one.dataset) && !(one.dataset.stop in mineDone) && Number(one.dataset.stop) !== here,
  );
  const next = left.find((one) => Number(one.dataset.stop) > here) ?? left[0];
  form.dataset.next = next ? next.querySelector("a").href : home;
  part("onward").textContent = next ? `Save, go to check point ${next.dataset.stop}` : "Save, that was the last";
  part("onward-skip").textContent = next ? `Skip, go to check point ${next.dataset.stop}` : "Skip";
}

function markWritten() {
  const ticks = [...document.querySelectorAll(".prog rect")];
  for (const [number, word] of Object.entries(written())) {
    const state = document.querySelector(`[data-stop="${number}"]:not([data-done]) [data-state]`);
    if (!state) continue;
    if (!state.textContent) [state.className, state.textContent] = [word === "Done" ? "is is-yes" : "is is-waiting", word];
    const tick = ticks[Number(number) - 1];
    if (tick && !tick.matches(".tick-now")) tick.setAttribute("class", word === "Done" ? "tick-done" : "tick-skip");
  }
  const many = (look) => ticks.filter((tick) => tick.matches(look)).length;
  const [read, skipped, left] = [many(".tick-done"), many(".tick-skip"), ticks.length - many(".tick-done, .tick-skip")];
  const told = `${read} done, ${skipped ? `${skipped} skipped with a reason, ` : ""}${left} to go.`;
  if (Object.keys(written()).length && ticks.some((tick) => tick.matches(".tick-now"))) part("progress").textContent = told;
}

// Sending

async function send(one, waited) {
  const body = new URLSearchParams(one.fields);
  body.set("csrfmiddlewaretoken", document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "");
  if (waited) body.set("waited", String(Math.max(1, Math.round((Date.now() - one.at) / 1000))));
  const answer = await fetch(one.url, { method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE) });
  signal(true);
  const signedOut = new URL(answer.url).pathname.startsWith("/sign-in/");
  return { answer, signedOut, taken: answer.ok && answer.redirected && !signedOut };
}

let sending = false;

async function sync() {
  if (sending || !mine().some((one) => !one.refused)) return;
  sending = true;
  let [arrived, says] = [0, undefined];
  try {
    for (const one of mine().filter((one) => !one.refused)) {
      const { answer, signedOut, taken } = await send(one, true);
      if (taken) {
        drop(one);
        arrived += 1;
        tell();
      } else if (answer.status === 422) put({ ...one, refused: true });
      else {
        // Refused before anybody looked at it: nobody is signed in, or the cookie of this browser is gone.
        says = signedOut || answer.status === 403 ? "Sign in again to send it." : "The plant could not take it just now; it is sent again.";
        break;
      }
    }
  } catch {
    signal(false);
  } finally {
    sending = false;
  }
  // The page that shows the walk is shown anew; one that is being written is left alone.
  if (arrived && !(form && form.dataset.number)) location.reload();
  else if (arrived) for (const mark of document.querySelectorAll("[data-state].is-saved")) settle(mark);
  tell(says);
}

function settle(mark) {
  const number = mark.closest("[data-stop]").dataset.stop;
  if (!mine().some((one) => one.walk === walk && one.number === number)) [mark.className, mark.textContent] = ["is is-yes", "Done"];
}

async function submitted(event) {
  if (form.dataset.plain) return;
  if (form.dataset.busy) return event.preventDefault();
  const skip = event.submitter?.value === "skip";
  if (!skip && !check()) return event.preventDefault();
  const typed = new FormData(form);
  if (event.submitter?.name) typed.set(event.submitter.name, event.submitter.value);
  typed.delete("csrfmiddlewaretoken");
  const one = { url: form.action, fields: [...typed], at: Date.now(), person, walk, number: form.dataset.number ?? "", skipped: skip, label: form.dataset.keep };
  try {
    put(one); // first kept, only then is the browser's own sending stopped
  } catch {
    return; // no room, or the store is shut: the form goes its usual way
  }
  event.preventDefault();
  form.dataset.busy = "yes";
  try {
    const { answer, signedOut, taken } = await send(one, false);
    if (taken || signedOut) {
      if (taken) {
        drop(one);
        done(one);
        forgetTyped();
      }
      location.assign(answer.url);
    } else if (answer.status >= 500) onward(one);
    else {
      drop(one); // refused or asked about: the page of the plant says why
      form.dataset.plain = "yes";
      form.requestSubmit(event.submitter);
    }
  } catch {
    signal(false);
    onward(one);
  }
}

function onward(one) {
  forgetTyped();
  done(one);
  delete form.dataset.busy;
  if (navigator.serviceWorker?.controller) location.assign(form.dataset.next);
  else tell("The next page needs signal.");
}

// What is typed and not sent yet

const place = TYPED + person + location.pathname;
const forgetTyped = () => localStorage.removeItem(place);

function remember() {
  const typed = [...new FormData(form)].filter(([name]) => !["csrfmiddlewaretoken", "key", "person", "shown", "version"].includes(name));
  try {
    localStorage.setItem(place, JSON.stringify(typed));
  } catch {
    // No room: what stands in the boxes is still sent.
  }
}

function restore(typed) {
  for (const [name, value] of typed) {
    if (name.startsWith("f") && !form.elements[name]) first(name, value);
    for (const field of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (field.type === "radio" || field.type === "checkbox") field.checked ||= field.value === value;
      else if (field.matches("select") || (field.type !== "hidden" && !field.value)) field.value = value;
    }
  }
}

function first(name, value) {
  const field = Object.assign(document.createElement("input"), { type: "hidden", name, value });
  form.append(field);
}

// Looking again, at once

const exact = (text) => Number(text.trim().replace("\u2212", "-").replace(",", "."));

function lookAgain(box) {
  const text = box.value.trim();
  const over = { low: "low" in box.dataset && exact(text) < exact(box.dataset.low), high: "high" in box.dataset && exact(text) > exact(box.dataset.high) };
  for (const notice of box.closest("[data-line]").querySelectorAll("[data-side]")) {
    const shows = NUMBER.test(text) && over[notice.dataset.side];
    notice.hidden = !shows;
    for (const field of notice.querySelectorAll("input, select")) field.disabled = !shows;
    const still = notice.querySelector("input[value=stands] + span");
    if (shows) still.textContent = `Still ${text}`;
  }
}

function misread(choice) {
  const box = choice.closest("[data-line]").querySelector(".write input");
  if (!form.elements[box.name.replace(/^v/, "f")]) first(box.name.replace(/^v/, "f"), box.value);
  box.value = "";
  box.focus();
  choice.checked = false;
  if ("low" in box.dataset || "high" in box.dataset) lookAgain(box);
}

// What can be seen on the phone itself is asked here, so that it is asked without signal too

function wants(field, sentence) {
  let says = field.parentElement.querySelector(":scope > .says[data-own]");
  if (!says) {
    says = Object.assign(document.createElement("span"), { className: "says" });
    says.dataset.own = "yes";
    field.before(says);
  }
  says.textContent = sentence;
  return field;
}

function wrongAt(line) {
  const [box, more] = line.querySelectorAll(":scope > .write input[inputmode]");
  const reason = line.querySelector(":scope > details input");
  if (!box?.value.trim()) return reason?.value.trim() ? null : wants(box.closest(".write"), "Write what it shows, or say why it could not be read.");
  for (const one of [box, more]) {
    if (one && !NUMBER.test(one.value.trim())) return wants(one.closest(".write"), "Write one number, like 7.01 or 7,01, with at most 12 digits before the point and 12 after it.");
  }
  for (const notice of line.querySelectorAll("[data-side]:not([hidden])")) {
    if (!notice.querySelector("input[type=radio]:checked")) return wants(notice.querySelector(".pair"), "Look again, then choose.");
    const did = notice.querySelector("input[type=text]");
    if (!did.value.trim()) return wants(did, "Say what you did about it; \u201ctold the supervisor\u201d is enough.");
  }
  return null;
}

function wrongLook(look) {
  const chosen = look.querySelector("input[type=radio]:checked");
  if (!chosen) return wants(look.querySelector(".pair"), "Choose one; nothing is chosen for you.");
  const because = look.querySelector("input[type=text]");
  return chosen.value === "bad" && !because.value.trim() ? wants(because, "Say in a few words what you saw.") : null;
}

function check() {
  form.querySelectorAll(".says[data-own]").forEach((says) => says.remove());
  const signed = (line) => line.querySelector(".pm");
  const found = [...form.querySelectorAll("[data-line], [data-look]")].map((one) => ("look" in one.dataset ? wrongLook(one) : signed(one) ? null : wrongAt(one)));
  const wrong = found.find(Boolean);
  if (wrong) (wrong.matches("input") ? wrong : wrong.querySelector("input")).focus();
  return !wrong;
}

function showBecause(look) {
  const bad = look.querySelector("input[type=radio]:checked")?.value === "bad";
  const because = look.querySelector(".because");
  if (bad) delete because.dataset.hidden;
  else because.dataset.hidden = "yes";
}

function nextBox(event) {
  if (event.key !== "Enter" || !event.target.matches("input[inputmode=decimal]")) return;
  const boxes = [...form.querySelectorAll("input[inputmode=decimal]")].filter((box) => box.offsetParent && !box.disabled);
  const next = boxes[boxes.indexOf(event.target) + 1];
  event.preventDefault();
  if (next) next.focus();
  else event.target.blur();
}

// Beginning

if (form?.dataset.number) {
  const kept = mine().find((one) => one.url === form.action);
  const typed = JSON.parse(localStorage.getItem(place) ?? "null");
  if (!form.querySelector("[aria-invalid]") && (kept || typed)) restore(kept?.fields ?? typed);
  form.addEventListener("input", remember);
  form.addEventListener("keydown", nextBox);
  form.addEventListener("change", ({ target }) => {
    if (target.dataset.low !== undefined || target.dataset.high !== undefined) lookAgain(target);
    if (target.type === "radio" && ["slip", "other"].includes(target.value)) misread(target);
    const look = target.closest("[data-look]");
    if (look) showBecause(look);
    remember();
  });
  form.querySelectorAll("[data-low], [data-high]").forEach((box) => box.value && lookAgain(box));
  form.querySelectorAll("[data-look]").forEach(showBecause);
}
form?.addEventListener("submit", submitted);
part("kept-send").addEventListener("click", sync);
document.querySelector("form[action$='/sign-out/']")?.addEventListener("submit", () => navigator.serviceWorker?.controller?.postMessage({ forget: true }));
addEventListener("online", sync);
// The page came back out of the browser's memory: it may be sent anew.
addEventListener("pageshow", () => form && (delete form.dataset.busy, delete form.dataset.plain));
addEventListener("offline", () => signal(false));
setInterval(sync, AGAIN);
signal(navigator.onLine);
// A page that was kept looks like any other, and a browser may think that it is connected: so the plant is asked.
fetch(worker, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(PATIENCE) }).catch(() => signal(false));
if (form?.dataset.number) onwards();
markWritten();
tell();
sync();

// A phone keeps pages only where the connection is secure (https, or this machine itself); elsewhere the browser has
// nothing of the kind, and what is typed is kept all the same.
if (navigator.serviceWorker && isSecureContext) {
  const links = [...document.querySelectorAll("a[data-take]")].map((link) => new URL(link.href).pathname);
  const stills = [...document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]")].map((one) => one.href ?? one.src);
  navigator.serviceWorker
    .register(worker, { scope: "/walk/" })
    .then(() => navigator.serviceWorker.ready)
    .then((there) => there.active.postMessage({ keep: true, person, walk, pages: [home, ...links], stills }))
    .catch(() => undefined);
}
