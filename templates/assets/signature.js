// A signature drawn with a finger, kept as strokes (an SVG path of M and L in a box of 600 by 200).

for (const pad of document.querySelectorAll("[data-signature]")) {
  const field = document.querySelector(`[name="${pad.dataset.signature}"]`);
  const path = pad.querySelector("path");
  let drawing = false;

  const at = (event) => {
    const box = pad.getBoundingClientRect();
    const x = Math.round(((event.clientX - box.left) / box.width) * 600);
    const y = Math.round(((event.clientY - box.top) / box.height) * 200);
    return `${Math.max(0, Math.min(600, x))} ${Math.max(0, Math.min(200, y))}`;
  };
  const add = (stroke) => {
    field.value += stroke;
    path.setAttribute("d", field.value);
  };

  pad.addEventListener("pointerdown", (event) => {
    drawing = true;
    pad.setPointerCapture(event.pointerId);
    add(`M${at(event)}`);
  });
  pad.addEventListener("pointermove", (event) => drawing && field.value.length < 19000 && add(`L${at(event)}`));
  pad.addEventListener("pointerup", () => (drawing = false));
  document.querySelector(`[data-clear="${pad.dataset.signature}"]`)?.addEventListener("click", () => {
    field.value = "";
    path.removeAttribute("d");
  });
}
