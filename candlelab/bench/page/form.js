// The form of an entry: fields in the folder's own units, asked while typing what check would say.

import { clockTime, elapsed, isoNow, lastTimeOf, now } from "./clock.js";
import { close, show } from "./dialogs.js";
import { button, el, say } from "./dom.js";
import { Fields } from "./fields.js";
import { add, drop, newId, post } from "./queue.js";

const TITLES = { light: "Light", check: "Check", out: "Put out", weigh: "Weigh", wick_change: "Change the wick of", set_aside: "Set aside", note: "Note on", photo: "Photo of", smoke: "Aftersmoke of" };
const SAVE = { light: "Lit now", check: "Save check", out: "Flame is out", weigh: "Save weight" };
const ASK_AFTER_MS = 250;
const TIMED = ["light", "check", "out"]; // what is done at a flame, and has its moment
let current = null; // the form that is open

export const isOpen = () => current !== null;

/** Show the form for something to do at a candle. */
export function openForm(one, kind, state, { change = null, values = null, saved = () => {} } = {}) {
  current = new Form(one, kind, state, change, saved);
  current.show(values ?? change?.values);
}

/** Once a second: the clock in the form's head. */
export function tick() {
  current?.tick();
}

class Form {
  constructor(one, kind, state, change, saved) {
    Object.assign(this, { one, kind, state, change, saved, opened: now(), asked: 0, timer: 0, problems: [] });
    this.clock = el("p", { class: "clock" });
    this.band = el("div", { class: "band", role: "alert" });
    this.told = el("ul", { class: "told", "aria-label": "What check says", tabindex: "0" });
    this.time = TIMED.includes(kind) ? el("input", { type: "time", id: "f-time", oninput: () => this.changed() }) : null;
    this.fields = new Fields(one, kind, state, () => this.changed());
    this.saver = el("button", { type: "submit", class: "main", form: "entry-form" }, change ? "Save correction" : SAVE[kind] || "Save");
  }

  show(values) {
    const time = this.time && el("div", { class: "field" }, el("label", { for: "f-time" }, "At ", el("span", { class: "unit" }, "(empty: now)")), this.time);
    const form = el("form", { id: "entry-form", novalidate: true, onsubmit: (event) => { event.preventDefault(); this.save(); } }, ...this.fields.elements(), time, this.hint());
    show(`${TITLES[this.kind]} ${this.one.candle}`, [form], {
      head: [this.clock],
      above: this.one.status === "alight" || TIMED.includes(this.kind) ? [this.band] : [],
      foot: [this.told, this.saver],
      closed: () => this.closed(),
      kind: "form",
    });
    this.fields.fill(values ?? (this.change ? null : kept(this.key())));
    this.limits();
    this.tick();
    this.fields.first()?.focus({ preventScroll: true });
    this.ask(false);
  }

  key() {
    return `candlelab-bench draft ${location.search} ${this.one.candle} ${this.one.burn} ${this.kind}`;
  }

  hint() {
    if (this.kind !== "out" || this.change) return null;
    return el("p", { class: "fine" }, `It counts as out at ${clockTime(this.opened)}, when you opened this form. Put the lid on first.`);
  }

  tick() {
    if (this.one.status !== "alight") return say(this.clock, `burn ${this.one.burn}`);
    const end = this.kind === "out" && !this.change ? ` · out at ${clockTime(this.opened)}` : "";
    say(this.clock, `burn ${this.one.burn} · ${elapsed(Date.parse(this.one.lit_at))}${end}`);
  }

  /** The moment of the entry. */
  moment() {
    if (this.time?.value) return new Date(lastTimeOf(this.time.value)).toISOString();
    if (this.change) return this.change.at;
    return this.kind === "out" ? new Date(this.opened).toISOString() : isoNow();
  }

  entry() {
    const values = this.fields.values();
    const base = { id: newId(), candle: this.one.candle, burn: this.one.burn, at: this.moment() };
    if (this.change) {
      const moved = this.time?.value ? { at: this.moment() } : {};
      return { ...base, kind: "correct", of: [this.change.id], at: isoNow(), burn: this.change.burn, values: { ...values, ...moved } };
    }
    if (this.kind === "smoke") return { ...base, kind: "correct", of: [this.smokeOf()], at: isoNow(), values };
    if (this.kind === "set_aside") return { ...base, kind: "set_aside", burn: this.fields.whole() ? 0 : this.one.burn, values };
    return { ...base, kind: this.kind, values, ...(this.fields.scale ? { scale: this.fields.scale } : {}) };
  }

  smokeOf() {
    return this.one.entries.find((entry) => entry.kind === "out").id;
  }

  changed() {
    if (!this.change) keep(this.key(), this.fields.values());
    this.limits();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.ask(false), ASK_AFTER_MS);
  }

  /** What a reading over a limit asks for, at once and without the computer. */
  limits() {
    const over = this.fields.passed();
    const [worst] = over;
    const level = worst ? worst.level : "fine";
    if (this.band.dataset.level === level && this.band.dataset.said === (worst?.happened ?? "")) return;
    Object.assign(this.band.dataset, { level, said: worst?.happened ?? "" });
    const stops = ["stop", "ask"].includes(level) && this.kind === "check" && this.one.status === "alight" && !this.change;
    const alarm = this.one.alarm ? [el("strong", {}, this.one.alarm), " ", this.one.alarm_do] : null;
    const words = worst ? [el("strong", {}, worst.happened), " ", worst.do] : alarm ?? [this.one.status === "alight" || this.kind === "light" ? this.state.stop_words : this.one.remark];
    this.band.replaceChildren(el("p", {}, ...words), stops ? button("Put out now", () => this.putOut(), { class: "danger" }) : "");
  }

  async ask(complete) {
    const asked = (this.asked += 1);
    let problems = [];
    try {
      const response = await post("drafts", { entry: this.entry() }, 8000);
      problems = (await response.json()).problems ?? [];
    } catch {
      return; // the computer is away: the entry can be saved here all the same
    }
    if (asked === this.asked && current === this) this.tell(problems, complete);
  }

  tell(problems, complete) {
    const shown = complete ? problems : problems.filter((one) => one.problem !== "empty cell");
    this.problems = shown;
    this.fields.mark(shown);
    const line = (one) => el("li", { "data-level": one.level }, el("strong", {}, `${one.level}: ${one.column ? `${one.column}: ` : ""}${one.problem}.`), ` ${[one.found && `Found ${one.found}.`, one.expected && `Expected ${one.expected}.`, one.what_to_do].filter(Boolean).join(" ")}`);
    const over = this.band.dataset.level !== "fine"; // a limit is passed, which is no slip of the pen
    const fine = el("li", { "data-level": "fine" }, over ? "Nothing looks mistyped." : "Nothing stands out.");
    this.told.replaceChildren(...(shown.length ? shown.map(line) : [fine]));
  }

  async save() {
    const missing = this.fields.missing();
    if (missing) return this.refuse(missing);
    this.saver.disabled = true;
    const entry = this.entry();
    const answer = await add(entry);
    this.saver.disabled = false;
    if (answer?.status === "refused") {
      drop(entry.id);
      this.tell(answer.problems ?? [], true);
      if (!answer.problems?.length) this.refuse(answer.why);
      return;
    }
    this.done();
  }

  /** Save the reading, and that the candle was put out for it. */
  async putOut() {
    const at = isoNow();
    const check = add(this.entry());
    const out = { id: newId(), kind: "out", candle: this.one.candle, burn: this.one.burn, at, values: { ended_by: "stopped" } };
    const ended = add(out);
    const answers = await Promise.all([check, ended]);
    const [first] = answers;
    if (first?.status === "refused") {
      drop(first.id);
      this.tell(first.problems ?? [], true);
      this.one = { ...this.one, status: "out" }; // the flame is out and written down; the reading still waits
      this.limits();
      return;
    }
    this.done();
  }

  /** Say why it is not saved; what check is still to answer does not take its place. */
  refuse(words) {
    clearTimeout(this.timer);
    this.asked += 1;
    this.told.replaceChildren(el("li", { "data-level": "must fix" }, el("strong", {}, words)));
    this.told.focus();
  }

  done() {
    forget(this.key());
    close();
    this.saved();
  }

  closed() {
    clearTimeout(this.timer);
    if (current === this) current = null;
  }
}


/** What was typed and not saved, for when the form is opened again. */
function kept(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

function keep(key, values) {
  try {
    if (Object.keys(values).length) localStorage.setItem(key, JSON.stringify(values));
    else localStorage.removeItem(key);
  } catch {
    // a browser that keeps nothing has said so in the status line
  }
}

function forget(key) {
  try {
    localStorage.removeItem(key);
  } catch {
    // nothing was kept
  }
}
