// Sounds made in the page. A browser gives sound only after somebody touched the page once.
import { signal } from "@preact/signals";

let context: AudioContext | undefined;
/** Whether sound can be heard now. */
export const audible = signal(false);

function wake(): void {
  context ??= new AudioContext();
  const here = context;
  here.onstatechange = () => { audible.value = here.state === "running"; };
  void here.resume().then(() => { audible.value = here.state === "running"; }).catch(() => {});
}
for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, wake, { capture: true, passive: true });

function tone(at: number, pitch: number, length: number, loud: number): void {
  if (!context) return;
  const voice = context.createOscillator();
  const gain = context.createGain();
  // A triangle carries over dryers and music and does not hurt.
  voice.type = "triangle";
  voice.frequency.value = pitch;
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(loud, at + 0.015);
  gain.gain.setValueAtTime(loud, at + length - 0.04);
  gain.gain.linearRampToValueAtTime(0, at + length);
  voice.connect(gain).connect(context.destination);
  voice.start(at);
  voice.stop(at + length);
}

/** Time is up: three rising tones, twice. A look: two even tones. */
export function play(kind: "up" | "look"): void {
  if (context?.state !== "running") return;
  const start = context.currentTime + 0.02;
  if (kind === "look") {
    tone(start, 660, 0.16, 0.5);
    tone(start + 0.24, 660, 0.16, 0.5);
    return;
  }
  for (const again of [0, 0.62]) {
    tone(start + again, 784, 0.15, 0.9);
    tone(start + again + 0.17, 988, 0.15, 0.9);
    tone(start + again + 0.34, 1319, 0.2, 0.9);
  }
}
