// What this device likes, kept on this device alone.
import { effect, signal, type Signal } from "@preact/signals";
import { language } from "./words/index.ts";

function kept<T extends string>(name: string, values: readonly T[], first: T): Signal<T> {
  const before = localStorage.getItem(name) as T | null;
  const value = signal<T>(before && values.includes(before) ? before : first);
  effect(() => localStorage.setItem(name, value.value));
  return value;
}

export const themes = ["system", "light", "dark"] as const;
export const theme = kept("theme", themes, "system");
export const sizes = ["100", "125", "150", "200"] as const;
/** Size of text, per cent. */
export const size = kept("size", sizes, "100");
/** Whether remaining times are read aloud. */
export const aloud = kept("aloud", ["off", "on"] as const, "off");
/** Whether alarms make a sound here; they always show. */
export const sound = kept("sound", ["off", "on"] as const, "on");

effect(() => localStorage.setItem("language", language.value));
effect(() => {
  const root = document.documentElement;
  root.lang = language.value;
  root.dataset["theme"] = theme.value;
  root.style.fontSize = size.value === "100" ? "" : `${size.value}%`;
});
/** Whether the floor locks itself when nobody touches it. */
export const autoLock = kept("auto-lock", ["off", "on"] as const, "off");
