// Entries wait here, in this browser's own store, until the computer says that its disk has them.

import { deviceNow } from "./clock.js";

const KEY = `candlelab-bench ${location.search || "alone"}`;
const AGAIN_MS = 2000;
let waiting = load();
let xsrf = "";
let sending = false;
let again = 0;
let why = ""; // why the last try came to nothing
let kept = true;
let answers = new Map(); // what somebody waits for, by id
let onChange = () => {};

function load() {
  try {
    const read = JSON.parse(localStorage.getItem(KEY) || "[]");
    return Array.isArray(read) ? read.filter((one) => one && one.entry && one.entry.id) : [];
  } catch {
    return [];
  }
}

function keep() {
  try {
    // another tab of this browser may have added to it: what is there and not here is not lost
    const known = new Set(waiting.map((one) => one.entry.id));
    const others = load().filter((one) => !known.has(one.entry.id) && !done.has(one.entry.id));
    waiting.push(...others);
    localStorage.setItem(KEY, JSON.stringify(waiting));
    kept = true;
  } catch {
    kept = false;
  }
  onChange();
}
const done = new Set(); // ids that were answered, so that another tab's copy is not taken for new

/** A name that no other entry has. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function useToken(token) {
  xsrf = token;
}

export function watch(change) {
  onChange = change;
}

/** Keep an entry and send it; the promise gives the computer's answer, or nothing after a while. */
export function add(entry, patience = 2500) {
  waiting.push({ entry });
  const answered = new Promise((settle) => {
    answers.set(entry.id, settle);
    setTimeout(() => settle(null), patience);
  });
  keep();
  flush();
  return answered;
}

export const all = () => waiting;
export const pending = () => waiting.filter((one) => !one.refused);
export const refused = () => waiting.filter((one) => one.refused);
export const isKept = () => kept;

export function drop(id) {
  done.add(id);
  waiting = waiting.filter((one) => one.entry.id !== id);
  keep();
}

/** What the status line says. */
export function words() {
  const n = pending().length;
  const count = n === 1 ? "1 entry waits" : `${n} entries wait`;
  if (!n) return "";
  if (why.startsWith("Not written")) return `${why} ${count} here, kept, and will be sent again.`;
  return why ? `${count} here: ${why} Kept, and sent again.` : `${count} here for the computer's answer.`;
}

export async function post(path, body, patience = 20_000) {
  const ended = new AbortController();
  const timer = setTimeout(() => ended.abort(), patience);
  try {
    return await fetch(`${path}${location.search}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-XSRFToken": xsrf },
      body: JSON.stringify(body),
      signal: ended.signal,
      credentials: "same-origin",
    });
  } finally {
    clearTimeout(timer);
  }
}

/** Send what waits, one after the other, in the order in which it was entered. */
export async function flush() {
  if (sending) return;
  sending = true;
  clearTimeout(again);
  try {
    for (let next = pending()[0]; next; next = pending()[0]) {
      if (!(await send(next))) break;
    }
  } finally {
    sending = false;
    if (pending().length) again = setTimeout(flush, AGAIN_MS);
    onChange();
  }
}

async function send(one) {
  let answer, status;
  try {
    const response = await post("entries", { entry: one.entry, device_at: deviceNow() });
    status = response.status;
    answer = status === 403 ? {} : await response.json();
  } catch {
    why = "the computer does not answer.";
    onChange();
    return false;
  }
  if (answer.status === "saved" && answer.id === one.entry.id) {
    why = "";
    settle(one.entry.id, answer);
    drop(one.entry.id);
    return true;
  }
  if (answer.status === "refused") {
    one.refused = answer;
    settle(one.entry.id, answer);
    keep();
    return true;
  }
  why = status === 403 ? "this address is not the bench's any more. Open the one that the computer shows; entries come along." : answer.why || "the computer cannot write.";
  settle(one.entry.id, { status: "not written", why });
  onChange();
  return false;
}

function settle(id, answer) {
  answers.get(id)?.(answer);
  answers.delete(id);
}
