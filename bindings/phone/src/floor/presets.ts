// Timers that start by one tap. Their lengths are this device's, to be set in the settings; the first ones are common
// practice, written from memory and from no label.
import { effect, signal } from "@preact/signals";
import type { NewTimer, TimerKind } from "@tailcomb/web/types";
import { t } from "../words/index.ts";

export const presetKinds = ["processing", "gloss", "treatment", "plain"] as const satisfies readonly TimerKind[];
export interface Preset { kind: (typeof presetKinds)[number]; label: string; minutes: number; look_minutes: number | null }

const first: Preset[] = [
  { kind: "processing", label: "", minutes: 35, look_minutes: null },
  { kind: "processing", label: "", minutes: 30, look_minutes: 10 },
  { kind: "gloss", label: "", minutes: 20, look_minutes: 5 },
  { kind: "treatment", label: "", minutes: 10, look_minutes: null },
  { kind: "plain", label: "", minutes: 5, look_minutes: null },
  { kind: "plain", label: "", minutes: 15, look_minutes: null },
];

const whole = (value: unknown, most: number): value is number => Number.isInteger(value) && (value as number) >= 1 && (value as number) <= most;
function readable(one: unknown): one is Preset {
  const { kind, label, minutes, look_minutes } = (one ?? {}) as Record<string, unknown>;
  return presetKinds.includes(kind as Preset["kind"]) && typeof label === "string" && whole(minutes, 600) && (look_minutes === null || whole(look_minutes, 600));
}
function kept(): Preset[] {
  try {
    const read: unknown = JSON.parse(localStorage.getItem("presets") ?? "null");
    if (Array.isArray(read) && read.every(readable)) return read;
  } catch {
    // Not readable: the first ones again.
  }
  return first;
}

export const presets = signal<Preset[]>(kept());
effect(() => localStorage.setItem("presets", JSON.stringify(presets.value)));

export const presetName = (one: Preset) => one.label || t(`kind.${one.kind}`);
export const newTimer = (one: Preset): NewTimer => ({
  kind: one.kind, label: one.label, length_ms: one.minutes * 60_000,
  check_every_ms: one.look_minutes === null ? null : one.look_minutes * 60_000, sections: [], bowl: null, from: null,
});
