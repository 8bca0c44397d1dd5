// Moments are those of the computer that runs the bench; this device's clock may be wrong.

let offset = 0; // milliseconds that the computer is ahead of this device
let zone;
const MINUTE = 60_000;

/** Learn how far the computer's clock is from this one's. */
export function learn(serverNow, asked, answered) {
  const now = Date.parse(serverNow) - (asked + answered) / 2;
  // the way there and back blurs it: only a better or a very different answer counts
  if (Math.abs(now - offset) > Math.max(250, (answered - asked) / 2)) offset = now;
}

export function useZone(name) {
  zone = name || undefined;
}

export const now = () => Date.now() + offset;
export const isoNow = () => new Date(now()).toISOString();
export const deviceNow = () => new Date().toISOString();

/** How far off this device's clock is, in words; nothing when it is within a minute. */
export function offsetWords() {
  const minutes = Math.round(Math.abs(offset) / MINUTE);
  if (Math.abs(offset) <= MINUTE) return "";
  return `This device's clock is ${minutes} min ${offset < 0 ? "ahead of" : "behind"} the computer's; times here are the computer's.`;
}

const format = (options) => (moment) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...options }).format(moment);
export const clockTime = (moment) => format({ hour: "2-digit", minute: "2-digit" })(moment);
export const dayWords = (moment) => {
  const parts = new Intl.DateTimeFormat("en-US", { timeZone: zone, weekday: "long", day: "numeric", month: "long" }).formatToParts(moment);
  const part = (type) => parts.find((one) => one.type === type).value;
  return `${part("weekday")} ${part("day")} ${part("month")}`;
};

/** Hours, minutes and seconds since a moment: 1:02:03. */
export function elapsed(since) {
  const seconds = Math.max(0, Math.floor((now() - since) / 1000));
  const two = (n) => String(n).padStart(2, "0");
  return `${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
}

/** Minutes in words: 3 h 10 min. */
export function minutesWords(minutes) {
  const whole = Math.max(0, Math.floor(minutes));
  const [hours, rest] = [Math.floor(whole / 60), whole % 60];
  return [hours ? `${hours} h` : "", rest || !hours ? `${rest} min` : ""].filter(Boolean).join(" ");
}

/** The last moment at which the bench's clock showed a time of day such as 09:05. */
export function lastTimeOf(text) {
  const [hour, minute] = text.split(":").map(Number);
  const shown = clockTime(now()).split(":").map(Number);
  const back = (shown[0] * 60 + shown[1] - hour * 60 - minute + 1440) % 1440;
  return Math.floor(now() / MINUTE) * MINUTE - back * MINUTE;
}
