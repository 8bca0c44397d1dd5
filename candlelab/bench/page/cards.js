// One card for each candle, always in the same place and of the same size.

import { clockTime, elapsed, minutesWords, now } from "./clock.js";
import { button, el, say } from "./dom.js";
import { askOf } from "./model.js";

const MAIN = { ready: "Light", alight: "Check", out: "Weigh" };
const KIND = { Light: "light", Check: "check", Weigh: "weigh" };

/** Draw the cards once; afterwards only their texts change. */
export class Cards {
  constructor(open) {
    this.open = open; // called with a candle's name and what to do
    this.cards = new Map();
  }

  draw(candles, places) {
    for (const one of candles) {
      const home = places(one);
      if (!home || this.cards.has(one.candle)) continue;
      const card = this.card(one.candle);
      this.cards.set(one.candle, card);
      home.append(card.box);
    }
  }

  card(name) {
    const id = `card-${name}`;
    const part = {
      place: el("span", { class: "place" }),
      clock: el("p", { class: "clock" }),
      ask: el("p", { class: "ask" }),
      more: el("p", { class: "more" }),
    };
    const act = (which) => () => this.open(name, part[which].dataset.do);
    part.main = button("", act("main"), { class: "main" });
    part.second = button("", act("second"), { class: "second" });
    part.menu = button("More", () => this.open(name, "menu"), { class: "menu", "aria-label": `More for ${name}` });
    part.box = el(
      "article",
      { id, "aria-labelledby": `${id}-name`, tabindex: "-1" },
      el("div", { class: "top" }, el("h3", { id: `${id}-name` }, name), part.place, part.clock),
      part.ask,
      part.more,
      el("div", { class: "buttons" }, part.main, part.second, part.menu),
    );
    return part;
  }

  tick(candles, protocol) {
    for (const one of candles) {
      const card = this.cards.get(one.candle);
      if (card) show(card, one, protocol);
    }
  }

  jump(name) {
    const box = this.cards.get(name)?.box;
    box?.closest("details")?.setAttribute("open", "");
    box?.scrollIntoView({ block: "center" });
    box?.focus({ preventScroll: true });
  }
}

function show(card, one, protocol) {
  const ask = askOf(one, protocol);
  const level = ask ? ask.level : one.stop ? "never" : one.status;
  if (card.box.dataset.level !== level) card.box.dataset.level = level;
  say(card.place, [one.place, `burn ${one.burn}`].filter(Boolean).join(" · "));
  say(card.clock, one.status === "alight" ? elapsed(Date.parse(one.lit_at)) : clockWords(one));
  say(card.ask, ask ? ask.words : asks(one));
  card.ask.title = card.ask.textContent;
  say(card.more, below(one));
  card.more.title = card.more.textContent;
  set(card.main, one.candle, MAIN[one.status]);
  set(card.second, one.candle, second(one));
}

function set(made, name, words) {
  say(made, words || "–");
  made.dataset.do = KIND[words] || { "Put out": "out", "Smoke stopped": "smoke" }[words] || "";
  if (made.disabled !== !words) made.disabled = !words;
  const label = words ? `${words} ${name}` : `Not yet: ${name}`;
  if (made.getAttribute("aria-label") !== label) made.setAttribute("aria-label", label);
}

const second = (one) => (one.status === "alight" ? "Put out" : one.status === "out" && !one.smoke ? "Smoke stopped" : "");

function clockWords(one) {
  if (one.status === "out") return `Out at ${clockTime(Date.parse(one.out_at))}`;
  if (one.status === "weighed") return "Weighed";
  return one.status === "over" ? "Over" : "Not lit";
}

function asks(one) {
  if (one.status === "out") return `Burned ${minutesWords((Date.parse(one.out_at) - Date.parse(one.lit_at)) / 60_000)}. Weigh it when it has cooled.`;
  if (one.stop) return one.stop;
  if (one.status === "over") return one.over;
  const rested = one.rested_at ? Date.parse(one.rested_at) : 0;
  if (rested > now()) return `Cooling until ${clockTime(rested)}.`;
  return one.remark || one.new_wick || "Trim, weigh, then light.";
}

function below(one) {
  if (one.waits) return one.waits === 1 ? "1 entry waits here" : `${one.waits} entries wait here`;
  const last = one.entries.filter((entry) => entry.kind === "check" && entry.burn === one.burn).at(-1);
  if (one.status === "alight" && last) return `${clockTime(Date.parse(last.at))} ${last.brief || "checked"}`;
  if (one.status === "alight") return `Lit at ${clockTime(Date.parse(one.lit_at))}`;
  return one.status === "ready" && one.new_wick && one.remark ? one.new_wick : "";
}
