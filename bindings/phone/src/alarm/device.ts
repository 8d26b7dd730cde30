// What an alarm does to the device: sound, vibration, a screen that stays awake, the title and the badge.
import { computed, effect, signal } from "@preact/signals";
import { sound } from "../settings.ts";
import { now, zone } from "../time.ts";
import { screenTitle } from "../title.ts";
import { clockTime, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { alarms, next, ringing } from "./alarms.ts";
import { play } from "./sound.ts";

/** How often an alarm is repeated until somebody silences it. */
const REPEAT_MS = 2_500;
const LOOK_REPEAT_MS = 8_000;

const kind = computed(() => (ringing.value.length === 0 ? undefined : ringing.value.some((one) => !one.is_check) ? "up" : "look"));

effect(() => {
  const what = kind.value;
  if (!what) return;
  const ring = () => {
    if (sound.peek() === "on") play(what);
    navigator.vibrate?.(what === "up" ? [450, 150, 450, 150, 450] : [200, 150, 200]);
  };
  ring();
  const timer = setInterval(ring, what === "up" ? REPEAT_MS : LOOK_REPEAT_MS);
  return () => {
    clearInterval(timer);
    navigator.vibrate?.(0);
  };
});

/** Whether the screen is kept on: while something runs, where the browser can. */
export const awake = signal<"no" | "yes" | "cannot">("wakeLock" in navigator ? "no" : "cannot");
let lock: WakeLockSentinel | undefined;
const wanted = computed(() => alarms.value.length > 0);

async function keepAwake(): Promise<void> {
  if (awake.peek() === "cannot" || lock || document.hidden) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    awake.value = "yes";
    lock.addEventListener("release", () => { lock = undefined; awake.value = "no"; });
    if (!wanted.peek()) void lock.release();
  } catch {
    // Low battery, or the system says no: the floor says so.
    awake.value = "no";
  }
}
effect(() => {
  if (wanted.value) void keepAwake();
  else void lock?.release();
});
document.addEventListener("visibilitychange", () => { if (!document.hidden && wanted.peek()) void keepAwake(); });

// The title: the next due time, then what the screen is called.
effect(() => {
  const first = next.value;
  const up = ringing.value.length;
  const due = up > 0 ? `● ${t("floor.up")}` : first ? `${clockTime(first.due_ms, zone.value)} ${told(first.label) || t(`kind.${first.kind}`)}` : "";
  document.title = [due, screenTitle.value, "Tailcomb"].filter((part, i, all) => part && all.indexOf(part) === i).join(" · ");
});
const nowMinute = computed(() => Math.floor(now.value / 10_000) * 10_000);
// The badge holds a number alone: the hour and minute of the next alarm would not fit, so it is how many ring, or the
// minutes until the next one does.
const badge = computed(() => (ringing.value.length > 0 ? ringing.value.length : next.value ? Math.max(1, Math.ceil((next.value.due_ms - nowMinute.value) / 60_000)) : 0));
effect(() => {
  const n = badge.value;
  const set = n > 0 ? navigator.setAppBadge?.(n) : navigator.clearAppBadge?.();
  void set?.catch(() => {});
});
