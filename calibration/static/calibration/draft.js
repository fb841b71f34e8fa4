// Keeps a reading set while it is typed and shows what follows from it: the form is posted to its data-work address,
// and each piece of the answer, <div data-part="ID">, takes the place of what is inside #ID. Nothing is calculated
// here. Where somebody is typing, nothing is replaced. Without an answer the page stays as it is and its button works.
const PAUSE = 600;

const form = document.querySelector("form[data-work]");
let timer = 0;
let asking = null;
let stopped = false;

const ask = async () => {
  asking = new AbortController();
  const typed = new FormData(form);
  typed.delete("proof");
  try {
    const answer = await fetch(form.dataset.work, {
      method: "POST",
      body: typed,
      signal: asking.signal,
      credentials: "same-origin",
      redirect: "error",
    });
    if (!answer.ok && answer.status !== 409) return;
    stopped = answer.status === 409;
    place(new DOMParser().parseFromString(await answer.text(), "text/html"));
  } catch {
    // Silence is right here: what stands on the page was true when it was worked out, and says when.
  }
};

const place = (answer) => {
  for (const part of answer.querySelectorAll("[data-part]")) {
    const here = document.getElementById(part.dataset.part);
    if (!here || here.contains(document.activeElement) || here.innerHTML === part.innerHTML) continue;
    here.innerHTML = part.innerHTML;
  }
};

// A newer key stroke makes an answer under way worthless: it would put back what was typed before.
const later = () => {
  asking?.abort();
  clearTimeout(timer);
  if (!stopped) timer = setTimeout(ask, PAUSE);
};

if (form) {
  form.addEventListener("input", later);
  form.addEventListener("change", later);
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    asking?.abort();
  });
}
