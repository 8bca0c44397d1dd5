// One dialog at a time. It keeps the keyboard inside, and gives it back where it was.

import { button, byId, el } from "./dom.js";

let closing = () => {};

/** Show a dialog with a heading; `closed` is called when it goes. */
export function show(heading, children, { closed = () => {}, head = [], above = [], foot = [], kind = "" } = {}) {
  const dialog = byId("dialog");
  if (dialog.open) dialog.close();
  closing = closed;
  dialog.className = kind;
  dialog.replaceChildren(
    el(
      "div",
      { class: "frame" },
      el("div", { class: "head" }, el("h2", { id: "dialog-title" }, heading), ...head, button("Close", close, { class: "close" })),
      ...above,
      el("div", { class: "body", tabindex: "-1" }, ...children),
      foot.length ? el("div", { class: "foot" }, ...foot) : null,
    ),
  );
  dialog.showModal();
  return dialog;
}

export function close() {
  byId("dialog").close();
}

export function startDialogs() {
  byId("dialog").addEventListener("close", () => {
    const called = closing;
    closing = () => {};
    called();
  });
}

/** A list of things to do. */
export function menu(heading, choices) {
  show(
    heading,
    choices.map(([words, act, more]) => button([el("strong", {}, words), more ? el("span", {}, more) : null].filter(Boolean), () => { close(); act(); }, { class: "choice" })),
    { kind: "small" },
  );
}

/** A list of sentences, each with buttons of its own. */
export function list(heading, items, none) {
  const rows = items.map(({ words, more = [], buttons = [] }) =>
    el("li", {}, el("p", {}, words), ...more.map((line) => el("p", { class: "fine" }, line)), buttons.length ? el("div", { class: "buttons" }, ...buttons.map(([text, act]) => button(text, act))) : null),
  );
  show(heading, [rows.length ? el("ul", { class: "plain" }, ...rows) : el("p", {}, none)], { kind: "small" });
}
