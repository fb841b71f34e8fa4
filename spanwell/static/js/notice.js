// What was refused is read first: the first notice that asks for it gets the focus.
// A link in the notice leads to a field; the field itself is focused, so that typing can go on.
document.querySelector("[data-focus]")?.focus();

document.addEventListener("click", (event) => {
  const link = event.target.closest?.(".notice a[href^='#'], .echo a[href^='#']");
  const target = link && document.getElementById(link.hash.slice(1));
  if (!target) return;
  const first = target.matches("fieldset") ? target.querySelector("input, select, textarea") : target;
  requestAnimationFrame(() => (first ?? target).focus());
});
