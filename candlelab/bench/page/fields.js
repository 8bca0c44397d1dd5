// The fields of one form, each with its unit, what a tap fills in, and what is wrong with it.

import { now } from "./clock.js";
import { button, el, say } from "./dom.js";
import { passed } from "./model.js";

const NOTE = { name: "note", column: "note", header: "note", label: "Note", kind: "text", hint: "", unit: "" };
const PHOTO = { ...NOTE, name: "photo", column: "photo", header: "photo", label: "Name of the photo's file" };

export class Fields {
  constructor(one, kind, state, changed) {
    Object.assign(this, { one, kind, state, changed, scale: "", scaleSays: new Map(), opened: now() });
    this.made = this.wanted().map((field) => this.field(field));
  }

  wanted() {
    const of = this.state.fields;
    if (this.kind === "note") return [NOTE];
    if (this.kind === "photo") return [PHOTO];
    if (this.kind === "smoke") return of.out.filter((field) => field.column === "aftersmoke_s");
    const fields = of[this.kind] ?? [];
    if (this.kind === "weigh" && this.one.smoke) return fields.filter((field) => field.column !== "aftersmoke_s");
    return fields;
  }

  elements() {
    const flags = this.made.filter((one) => one.field.kind === "flag");
    const rest = this.made.filter((one) => one.field.kind !== "flag");
    const notes = rest.filter((one) => one.field.column === "note");
    const front = rest.filter((one) => one.field.column !== "note");
    return [
      this.kind === "set_aside" ? this.extent() : null,
      ...front.map((one) => one.box),
      flags.length ? this.flags(flags) : null,
      ...notes.map((one) => one.box),
    ].filter(Boolean);
  }

  /** Yes and no for everything that must not happen; nothing is ticked beforehand. */
  flags(flags) {
    const soot = this.made.filter((one) => ["soot", "secondary_ignition_s"].includes(one.field.column));
    const fine = button("I looked: nothing of all this", () => {
      for (const one of flags) one.set("no");
      for (const one of soot) if (!one.value()) one.set("0");
      this.changed();
    }, { class: "fine-all" });
    return el("fieldset", { class: "flags" }, el("legend", {}, "Did any of this happen?"), fine, ...flags.map((one) => one.box));
  }

  extent() {
    this.asideWhole = el("input", { type: "radio", name: "extent", id: "f-whole", value: "whole", checked: true });
    const burn = el("input", { type: "radio", name: "extent", id: "f-burn", value: "burn" });
    return el("fieldset", { class: "choices" }, el("legend", {}, "What is set aside?"),
      el("span", { class: "choice-of" }, this.asideWhole, el("label", { for: "f-whole" }, "The whole candle")),
      el("span", { class: "choice-of" }, burn, el("label", { for: "f-burn" }, `Burn ${this.one.burn} only`)));
  }

  whole() {
    return this.asideWhole.checked;
  }

  field(field) {
    if (field.column === "wick_series") return this.wicks(field);
    if (field.column === "wick_size") return this.hidden(field);
    if (field.choices) return this.choices(field, field.choices.map(({ value, words }) => [value, field.column === "soot" ? `${value} ${words}` : words]));
    if (field.kind === "flag") return this.choices(field, [["no", "no"], ["yes", "yes"]]);
    return this.text(field);
  }

  text(field) {
    const id = `f-${field.column}`;
    const number = field.kind === "number";
    const input = el("input", { id, name: field.name, type: "text", inputmode: number ? "decimal" : "text", autocomplete: "off", maxlength: number ? 20 : 1000, "aria-describedby": `${id}-wrong`, oninput: this.changed, title: field.hint });
    const wrong = el("p", { class: "wrong", id: `${id}-wrong` });
    const set = (text) => { input.value = text; };
    const label = el("label", { for: id }, field.label, field.unit ? el("span", { class: "unit" }, ` ${field.unit}`) : "");
    const box = el("div", { class: `field ${number ? "number" : "words"}` }, label, el("div", { class: "line" }, input, ...this.taps(field, set, input)), wrong);
    return { field, box, set, value: () => input.value.trim(), mark: (words) => { say(wrong, words || this.scaleSays.get(field.column) || ""); input.setAttribute("aria-invalid", words ? "true" : "false"); }, focus: input };
  }

  /** What a tap fills in. It is offered, never filled in by itself. */
  taps(field, set, input) {
    const taps = [];
    const offer = this.one.offers?.[field.column];
    if (offer) taps.push(button([el("strong", {}, offer.text), " ", offer.says], () => { set(offer.text); this.changed(); }, { class: "tap", "aria-label": `${field.label}: ${offer.text}, ${offer.says}` }));
    if (field.weight && this.state.scale) taps.push(button("Read the scale", (event) => this.weigh(field, set, event.target), { class: "tap" }));
    if (field.column === "aftersmoke_s") taps.push(button("Smoke stopped now", () => { set(String(Math.max(0, Math.round((now() - this.outAt()) / 1000)))); this.changed(); input.focus(); }, { class: "tap" }));
    return taps;
  }

  outAt() {
    return this.one.out_at ? Date.parse(this.one.out_at) : this.opened;
  }

  async weigh(field, set, tap) {
    tap.disabled = true;
    say(tap, "Reading …");
    let why = "";
    try {
      const query = new URLSearchParams(location.search);
      query.set("column", field.name);
      const answer = await (await fetch(`scale?${query}`)).json();
      if (answer.weight) {
        set(this.state.comma ? answer.weight.replace(".", ",") : answer.weight);
        this.scale = answer.line;
      } else why = answer.why;
    } catch {
      why = "The computer does not answer.";
    }
    this.scaleSays.set(field.column, why);
    this.find(field.column).mark("");
    say(tap, "Read the scale");
    tap.disabled = false;
    if (!why) this.changed();
  }

  choices(field, choices) {
    const group = `f-${field.column}`;
    const inputs = choices.map(([value, words], n) => {
      const input = el("input", { type: "radio", name: group, id: `${group}-${n}`, value, onchange: this.changed });
      return [input, el("span", { class: "choice-of", "data-danger": value === "yes" || (field.column === "soot" && value === "3") }, input, el("label", { for: input.id }, words))];
    });
    const wrong = el("p", { class: "wrong" });
    const box = el("fieldset", { class: field.kind === "flag" ? "flag" : "choices" }, el("legend", { title: field.hint }, field.label), ...inputs.map(([, made]) => made), wrong);
    return {
      field, box,
      set: (value) => { for (const [input] of inputs) input.checked = input.value === value; },
      value: () => inputs.find(([input]) => input.checked)?.[0].value ?? "",
      mark: (words) => say(wrong, words),
      focus: inputs[0][0],
    };
  }

  /** Series and size of a new wick, out of wicks.csv. */
  wicks(field) {
    const options = this.state.wicks.map(({ series, size }) => el("option", { value: JSON.stringify([series, size]) }, `${series} ${size}`));
    const select = el("select", { id: "f-wick", onchange: this.changed }, el("option", { value: "" }, "Choose"), ...options);
    const wrong = el("p", { class: "wrong" });
    this.wick = select;
    return { field, box: el("div", { class: "field words" }, el("label", { for: "f-wick" }, "New wick"), select, wrong), set: () => {}, value: () => JSON.parse(select.value || '[""]')[0], mark: (words) => say(wrong, words), focus: select };
  }

  hidden(field) {
    return { field, box: "", set: () => {}, value: () => JSON.parse(this.wick.value || '["",""]')[1], mark: () => {}, focus: null };
  }

  fill(values) {
    for (const one of this.made) if (values?.[one.field.name] !== undefined) one.set(this.state.comma && one.field.kind === "number" ? values[one.field.name].replace(".", ",") : values[one.field.name]);
  }

  values() {
    return Object.fromEntries(this.made.map((one) => [one.field.name, one.value()]).filter(([, text]) => text));
  }

  passed() {
    const order = ["stop", "ask", "fail", "caution"];
    return this.made.flatMap((one) => (one.value() ? passed(one.field, one.value()) : [])).sort((a, b) => order.indexOf(a.level) - order.indexOf(b.level));
  }

  /** What must not be left open before saving. */
  missing() {
    const open = (column) => this.find(column) && !this.find(column).value();
    if (this.kind === "out" && open("ended_by")) return "Say how it ended: time is up, by itself, or stopped early.";
    if (["note", "photo", "smoke"].includes(this.kind) && !Object.keys(this.values()).length) return "Nothing is filled in yet.";
    if (this.kind === "set_aside" && open("reason")) return "Say why it is set aside.";
    if (this.kind === "check" && !Object.keys(this.values()).length) return "Nothing is filled in yet: a check holds what you saw.";
    return "";
  }

  mark(problems) {
    for (const one of this.made) {
      const own = problems.filter((problem) => problem.column === one.field.header);
      one.mark(own.length ? own[0].problem : "");
      one.box.dataset && (one.box.dataset.level = own[0]?.level ?? "");
    }
  }

  find(column) {
    return this.made.find((one) => one.field.column === column);
  }

  first() {
    return this.made.find((one) => one.focus)?.focus;
  }
}
