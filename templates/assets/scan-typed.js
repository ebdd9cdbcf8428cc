// Codes that come from keys: typed by hand, or by a handheld that types a code and Enter.
//
// A handheld types wherever the focus is, so its keys are caught on the whole page, save in other fields; nobody has
// to touch the field first, and a phone's keyboard does not cover the page.

const HAND = 50; // milliseconds a character; a handheld types a code in a burst, a hand takes longer

const elsewhere = (target) => target.closest?.("input, select, textarea, button, a, summary") ?? null;

// take(text, seen) says whether it was taken; look(text) is told of every key that a hand types into the field.
export const listen = (form, field, take, look) => {
  let first = 0;

  const finish = () => {
    const text = field.value.trim();
    if (!text) return;
    const byHand = performance.now() - first > HAND * text.length;
    if (take(text, byHand ? "typed" : "scanned")) field.value = "";
    else field.select();
  };

  field.addEventListener("input", () => {
    if (field.value.length <= 1) first = performance.now();
    look(field.value);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    finish();
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (event.target === field || form.hidden) return;
    const other = elsewhere(event.target);
    if (event.key === "Enter" && field.value && !other?.matches("input, select, textarea")) {
      event.preventDefault();
      finish();
    } else if (event.key.length === 1 && event.key !== " " && !other?.matches("input, select, textarea")) {
      event.preventDefault();
      if (!field.value) first = performance.now();
      field.value += event.key;
    }
  });
};
