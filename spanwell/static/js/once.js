// A form is sent once. The server refuses a second copy by its key; this only spares the person the wait.
// The button is not disabled: a disabled button would not be part of what is sent.
const PATIENCE = 8000;

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  event.submitter?.setAttribute("aria-disabled", "true");
  setTimeout(() => release(form), PATIENCE);
});

// The page came back out of the browser's memory: the form is to be sent anew.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(release));

function release(form) {
  delete form.dataset.sent;
  form.querySelectorAll("[aria-disabled]").forEach((button) => button.removeAttribute("aria-disabled"));
}
