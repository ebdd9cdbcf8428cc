// Building parts of a page without markup in strings: what people typed stays text.

export const make = (name, props = {}, ...children) => {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(props)) {
    if (value === false || value === undefined || value === null) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "text") made.textContent = value;
    else made.setAttribute(key === "className" ? "class" : key, value === true ? "" : value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return made;
};

export const fill = (place, ...children) => place.replaceChildren(...children.flat().filter(Boolean));

export const thousands = (number) => String(number).replace(/\B(?=(\d{3})+$)/g, ",");

export const plural = (number, word) => `${thousands(number)} ${word}${number === 1 ? "" : "s"}`;
