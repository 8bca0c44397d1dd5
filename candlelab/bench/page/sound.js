// The page rings by itself; a browser lets it only after a tap or a key.

let context = null;
let wanted = true;
let wasOn = false; // before the tap that may have unlocked it
let silent = null; // tells the page when that changes

export function watchSound(change) {
  silent = change;
  for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, unlock, { capture: true });
}

function unlock() {
  wasOn = isOn();
  if (wanted) start();
}

function start() {
  context ??= new AudioContext();
  if (context.state !== "running") context.resume().then(silent, silent);
  else silent();
}

export function toggle() {
  wanted = !(wanted && wasOn);
  if (wanted) start();
  silent();
}

export const isOn = () => wanted && context?.state === "running";
export const words = () => (!wanted ? "Sound is off" : isOn() ? "Sound is on" : "No sound yet: tap");

/** Ring three times. */
export function ring() {
  if (!isOn()) return false;
  for (let n = 0; n < 3; n += 1) {
    const [tone, loud, at] = [context.createOscillator(), context.createGain(), context.currentTime + n * 0.35];
    tone.frequency.value = 880;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.5, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.28);
    tone.connect(loud).connect(context.destination);
    tone.start(at);
    tone.stop(at + 0.3);
  }
  return true;
}
