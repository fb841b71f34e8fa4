// Works a form out while it is typed: <form data-live="URL" data-live-into="ID"> is posted to URL and the answer,
// a piece of this page made by the server, takes the place of what is inside #ID. Nothing is calculated here.
// No answer, no signal, signed out meanwhile: the page stays as it is and its button still works.
const PAUSE = 500;

for (const form of document.querySelectorAll("form[data-live]")) {
  let timer = 0;
  let asking = null;

  const ask = async () => {
    asking?.abort();
    asking = new AbortController();
    const typed = new FormData(form);
    form.querySelectorAll("input[type=password], input[type=file]").forEach((field) => typed.delete(field.name));
    try {
      const answer = await fetch(form.dataset.live, {
        method: "POST",
        body: typed,
        signal: asking.signal,
        credentials: "same-origin",
        redirect: "error",
      });
      if (!answer.ok) return;
      const text = await answer.text();
      const place = document.getElementById(form.dataset.liveInto);
      if (place && place.innerHTML !== text) place.innerHTML = text;
    } catch {
      // Silence is right here: what stands on the page was true when it was worked out, and says when.
    }
  };

  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(ask, PAUSE);
  };

  form.addEventListener("input", later);
  form.addEventListener("change", later);
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    asking?.abort();
  });
}
