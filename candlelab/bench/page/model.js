// Where each candle stands: what the computer said, and the entries that still wait here.

import { clockTime, minutesWords, now } from "./clock.js";

const MINUTE = 60_000;
export const SOON_MIN = 5;

/** The candles with what waits here on top. */
export function candlesOf(state, waiting) {
  const candles = new Map(state.candles.map((one) => [one.candle, { ...one, waits: 0 }]));
  for (const { entry, refused } of waiting) {
    const one = candles.get(entry.candle);
    if (!one || refused) continue;
    one.waits += 1;
    one.entries = [...one.entries, { ...entry, words: `${entry.kind}: waits here` }];
    if (entry.kind === "light" && one.status === "ready") Object.assign(one, { status: "alight", lit_at: entry.at, burn: entry.burn });
    if (entry.kind === "check" && one.status === "alight" && !(one.last_check_at > entry.at)) one.last_check_at = entry.at;
    if (entry.kind === "out" && one.status === "alight") Object.assign(one, { status: "out", out_at: entry.at, alarm: "" });
    if (entry.kind === "weigh" && one.status === "out") Object.assign(one, { status: "weighed" });
  }
  return [...candles.values()];
}

/** What a burning candle asks for: {level, words, at, key}. Levels: alarm, over, due, soon, fine. */
export function askOf(one, protocol) {
  if (one.status !== "alight") return null;
  if (one.alarm) return { level: "alarm", words: `PUT IT OUT. ${one.alarm}`, short: "put it out", key: `${one.candle} alarm` };
  const lit = Date.parse(one.lit_at);
  const seen = one.last_check_at ? Date.parse(one.last_check_at) : lit;
  const check = protocol.checks_min.find((minute) => seen < lit + (minute - protocol.tolerance_min) * MINUTE);
  const at = lit + (check ?? protocol.burn_min) * MINUTE;
  const late = (now() - at) / MINUTE;
  const what = check === undefined ? "put it out" : "check it";
  const key = `${one.candle} ${one.burn} ${at}`;
  if (late < -SOON_MIN) return { level: "fine", words: `${check === undefined ? "Put out" : "Next check"} at ${clockTime(at)}`, at, key };
  if (late < 0) return { level: "soon", words: `${check === undefined ? "Put out" : "Check"} at ${clockTime(at)}, in ${Math.ceil(-late)} min`, at, key };
  if (now() > seen + protocol.unseen_min * MINUTE) {
    return { level: "over", words: `OVERDUE ${minutesWords(late)}: ${what}. ${minutesWords(protocol.unseen_min)} went by without a check; that gap stays.`, short: what, at, key };
  }
  if (late >= 1) return { level: "over", words: `OVERDUE ${minutesWords(late)}: ${what} now`, short: what, at, key };
  return { level: "due", words: `DUE NOW: ${what}`, short: what, at, key };
}

export const RINGS = ["alarm", "over", "due"];

/** A number as it was typed, with either decimal mark; NaN when it is none. */
export function numberOf(text) {
  return /^[+-]?(\d+[.,]?\d*|[.,]\d+)$/.test(text.trim()) ? Number(text.trim().replace(",", ".")) : NaN;
}

/** The limits that a reading passes, the worst first. */
export function passed(field, text) {
  const value = field.kind === "flag" ? { yes: 1, no: 0 }[text] : numberOf(text) * (field.factor ?? 1) + (field.shift ?? 0);
  const order = ["stop", "ask", "fail", "caution"];
  const over = (field.limits || []).filter((one) => value > one.limit + 1e-9);
  return over.sort((a, b) => order.indexOf(a.level) - order.indexOf(b.level));
}
