// Elements of the page, made of plain text only: nothing that was logged can become markup.

export const byId = (id) => document.getElementById(id);

/** An element with attributes, handlers (on...), and children. */
export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "class") made.className = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat(2).filter((child) => child !== null && child !== undefined && child !== ""));
  return made;
}

/** Set a text, only where it differs: a screen reader reads what changes. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function button(words, onclick, attributes = {}) {
  return el("button", { type: "button", onclick, ...attributes }, words);
}
