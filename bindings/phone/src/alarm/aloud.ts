// Reads remaining times aloud, for hands and eyes that are busy.
import { effect, untracked } from "@preact/signals";
import { aloud } from "../settings.ts";
import { instant, now } from "../time.ts";
import { running, type Running } from "../floor/view.ts";
import { locale, t } from "../words/index.ts";

export const canSpeak = "speechSynthesis" in window;

export function speak(timer: Running): void {
  const left = timer.due_ms === undefined ? (timer.left_ms ?? 0) : timer.due_ms - instant();
  const name = [timer.client, timer.label].filter(Boolean).join(", ");
  const n = Math.max(0, Math.round(left / 60_000));
  say(left <= 0 ? t("aloud.up", { what: name }) : t("aloud.left", { what: name, n }));
}
function say(text: string): void {
  if (!canSpeak) return;
  const words = new SpeechSynthesisUtterance(text);
  words.lang = locale.value;
  speechSynthesis.cancel();
  speechSynthesis.speak(words);
}

const EVERY_MINUTES = 5;
let told = "";
// The next one that is due, at every fifth minute and at the last one.
effect(() => {
  if (aloud.value !== "on") return;
  const first = running.value.find((one) => one.due_ms !== undefined && one.due_ms > now.value);
  if (!first?.due_ms) return;
  const left = Math.ceil((first.due_ms - now.value) / 60_000);
  const name = `${first.at.timer} ${left}`;
  if (name === told || (left % EVERY_MINUTES !== 0 && left !== 1)) return;
  told = name;
  untracked(() => speak(first));
});
