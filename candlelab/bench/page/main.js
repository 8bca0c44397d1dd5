// Asks the computer for the state of the bench every two seconds, draws it, and rings.

import { Cards } from "./cards.js";
import * as clock from "./clock.js";
import { close, list, menu, startDialogs } from "./dialogs.js";
import { button, byId, el, say } from "./dom.js";
import { openForm, tick as tickForm } from "./form.js";
import { RINGS, askOf, candlesOf } from "./model.js";
import * as queue from "./queue.js";
import * as sound from "./sound.js";

const ASK_MS = 2000;
const RING_MS = { alarm: 20_000, over: 60_000, due: 60_000 };
let state = null;
let away = false; // whether the computer did not answer the last time
let trouble = "";
let rung = new Map();
let screenLock = null;
const cards = new Cards(act);

async function ask() {
  const asked = Date.now();
  try {
    const response = await fetch(`state${location.search}`, { cache: "no-store", credentials: "same-origin" });
    if (response.status === 403) throw new Error("This address is not the bench's any more. Open the one that the computer shows.");
    const read = await response.json();
    trouble = read.why ?? "";
    if (!trouble) {
      clock.learn(read.now, asked, Date.now());
      state = read;
      queue.useToken(read.xsrf);
      clock.useZone(read.zone);
      draw();
    }
    if (away) queue.flush();
    away = false;
  } catch (error) {
    away = true;
    trouble = error instanceof TypeError || error instanceof SyntaxError ? "" : error.message;
  }
  tick();
  setTimeout(ask, ASK_MS);
}

function candles() {
  return candlesOf(state, queue.all());
}

function draw() {
  say(byId("title"), state.title);
  say(byId("stop"), state.stop_words);
  say(byId("promise"), state.cannot_promise);
  if (!byId("cautions").children.length) byId("cautions").append(...state.cautions.map((line) => el("li", {}, line)));
  cards.draw(state.candles, (one) => {
    if (one.status === "over") return null;
    return one.session ? byId("cards") : byId("other-cards");
  });
  byId("others").hidden = !byId("other-cards").children.length;
  say(byId("today-head"), byId("cards").children.length ? "Today's candles" : "Nothing is left to burn today.");
  fill("missed", state.today.missed);
  fill("over", state.today.over);
}

function fill(id, items) {
  const box = byId(id);
  const lines = items.map((one) => `${one.candle}${one.burn ? `, burn ${one.burn}` : ""}: ${one.words}`);
  box.hidden = !lines.length;
  say(box.querySelector("summary"), `${id === "missed" ? "Missed" : "Over"} (${lines.length})`);
  const ul = box.querySelector("ul");
  if (ul.dataset.lines !== lines.join("\n")) {
    ul.dataset.lines = lines.join("\n");
    ul.replaceChildren(...lines.map((line) => el("li", {}, line)));
  }
}

/** Once a second: clocks, what is due, the bell. */
function tick() {
  if (!state) {
    say(byId("status"), trouble || (away ? "The computer does not answer." : "Asking the computer …"));
    return;
  }
  const all = candles();
  cards.tick(all, state.protocol);
  const asks = all.map((one) => [one, askOf(one, state.protocol)]).filter(([, ask]) => ask && RINGS.includes(ask.level));
  asks.sort(([, a], [, b]) => RINGS.indexOf(a.level) - RINGS.indexOf(b.level) || (a.at ?? 0) - (b.at ?? 0));
  due(asks);
  bell(asks.map(([, ask]) => ask));
  keepScreen(all.some((one) => one.status === "alight"));
  say(byId("clock"), clock.offsetWords() || `${clock.dayWords(clock.now())}, ${clock.clockTime(clock.now())}`);
  status();
  tickForm();
}

function due(asks) {
  const box = byId("due");
  box.dataset.level = asks[0]?.[1].level ?? "fine";
  const words = asks.length ? `${asks.length} due: ${asks.slice(0, 4).map(([one, ask]) => `${one.candle} ${ask.short}`).join(", ")}${asks.length > 4 ? " …" : ""}` : "Nothing is due.";
  say(byId("due-words"), words);
  const names = asks.map(([one]) => one.candle).join(" ");
  const jumps = byId("due-jumps");
  if (jumps.dataset.names !== names) {
    jumps.dataset.names = names;
    jumps.replaceChildren(...asks.slice(0, 4).map(([one]) => button(one.candle, () => cards.jump(one.candle), { "aria-label": `Go to ${one.candle}` })));
  }
  document.title = asks.length ? `(${asks.length}) DUE – ${state.title}` : state.title;
}

function bell(asks) {
  const now = Date.now();
  const known = new Map(asks.map((ask) => [ask.key, rung.get(ask.key)]));
  const wanted = asks.filter((ask) => !known.get(ask.key) || now - known.get(ask.key) >= RING_MS[ask.level]);
  if (wanted.length && sound.ring()) for (const ask of wanted) known.set(ask.key, now);
  rung = known;
}

function status() {
  const line = byId("status");
  const waits = queue.words();
  const refused = queue.refused().length;
  const words = refused
    ? `${refused === 1 ? "1 entry was" : `${refused} entries were`} not taken: see Notices.`
    : waits || trouble || (away ? "The computer does not answer. Entries are kept here until it does." : queue.isKept() ? "Everything is written." : "This browser keeps nothing: leave the page open while entries wait.");
  line.dataset.level = refused || waits.startsWith("Not written") ? "bad" : waits || away || trouble ? "waits" : "fine";
  say(line, words);
  const count = notices().length;
  say(byId("notices"), count ? `Notices (${count})` : "Notices");
  byId("notices").dataset.level = count ? "some" : "";
  say(byId("sound"), sound.words());
  byId("sound").setAttribute("aria-pressed", String(sound.isOn()));
}

function notices() {
  const refused = queue.refused().map((one) => ({
    words: `Not taken: ${one.entry.candle}, ${one.entry.kind.replace("_", " ")} at ${clock.clockTime(Date.parse(one.entry.at))}. ${one.refused.why}`,
    more: (one.refused.problems ?? []).map((p) => `${p.level}: ${p.column}: ${p.problem}. ${p.what_to_do}`),
    buttons: [["Change", () => again(one)], ["Throw away", () => { queue.drop(one.entry.id); close(); }]],
  }));
  const gone = state.gone.length ? [{ words: "Rows that the bench wrote are in the tables no more. A program may have saved an older file over them.", buttons: [["Add them again", () => { queue.add({ id: queue.newId(), kind: "again", at: clock.isoNow(), of: state.gone }); close(); }]] }] : [];
  return [...refused, ...gone, ...state.problems.map((words) => ({ words })), ...state.late.map((words) => ({ words }))];
}

/** Open the form of an entry that was not taken, with what was typed. */
function again({ entry }) {
  const one = candles().find((candle) => candle.candle === entry.candle);
  queue.drop(entry.id);
  close();
  openForm(one, entry.kind, state, { values: entry.values, saved: soon });
}

function act(name, what) {
  const one = candles().find((candle) => candle.candle === name);
  if (!what || !one) return;
  if (what === "menu") return more(one);
  openForm(one, what, state, { saved: soon });
}

function more(one) {
  const form = (kind) => () => openForm(one, kind, state, { saved: soon });
  const burning = one.status === "alight" || one.status === "out";
  menu(`More for ${one.candle}`, [
    ["Note", form("note"), burning ? "goes into the note of this burn" : "is kept in bench.jsonl; the tables have no place for it"],
    ["Photo", form("photo"), "the name of its file"],
    ...(burning ? [] : [["Change the wick", form("wick_change"), `from burn ${one.burn} on`]]),
    ["Set aside", form("set_aside"), "its failures still count"],
    ["What was written", () => history(one), "look, correct, withdraw"],
  ]);
}

function history(one) {
  const entries = one.entries.map((entry) => ({
    words: `${clock.clockTime(Date.parse(entry.at))}, burn ${entry.burn}: ${entry.words}`,
    buttons: [...(entry.kind === "wick_change" ? [] : [["Correct", () => { close(); openForm(one, entry.kind, state, { change: entry, saved: soon }); }]]), ["Withdraw", () => withdraw(one, entry)]],
  }));
  list(`${one.candle}: what was written`, entries, "Nothing yet.");
}

async function withdraw(one, entry) {
  close();
  const answer = await queue.add({ id: queue.newId(), kind: "withdraw", candle: one.candle, burn: entry.burn, at: clock.isoNow(), of: [entry.id] });
  soon();
  if (answer?.status !== "saved") list("Not withdrawn", [{ words: answer?.why ?? "It waits for the computer's answer." }], "");
}

/** Show at once what an entry changed. */
async function soon() {
  tick();
  try {
    const asked = Date.now();
    const response = await fetch(`state${location.search}`, { cache: "no-store" });
    const read = await response.json();
    if (read.candles) {
      state = read;
      clock.learn(state.now, asked, Date.now());
      draw();
    }
  } catch {
    // the next question comes in two seconds
  }
  tick();
}

/** Keep the screen on while something burns, where the browser allows it. */
async function keepScreen(wanted) {
  if (!("wakeLock" in navigator) || wanted === Boolean(screenLock) || document.hidden) return;
  if (!wanted) {
    if (typeof screenLock === "object") screenLock.release();
    screenLock = null;
    return;
  }
  screenLock = "asked";
  try {
    screenLock = await navigator.wakeLock.request("screen");
    screenLock.addEventListener("release", () => { screenLock = null; });
  } catch {
    screenLock = "refused";
  }
}

startDialogs();
byId("caution-list").open = matchMedia("(min-width: 60rem)").matches;
queue.watch(() => state && tick());
sound.watchSound(() => state && status());
byId("sound").addEventListener("click", sound.toggle);
byId("notices").addEventListener("click", () => list("Notices", notices(), "Nothing to tell."));
addEventListener("beforeunload", (event) => { if (queue.pending().length && !queue.isKept()) event.preventDefault(); });
document.addEventListener("visibilitychange", () => { if (screenLock === "refused") screenLock = null; });
setInterval(tick, 1000);
queue.flush();
ask();
