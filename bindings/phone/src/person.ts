// Who works at this device is kept on it: a reload, or a worker that had to start again, must not ask a gloved hand.
import { effect, signal, untracked } from "@preact/signals";
import { act } from "./live.ts";
import { standing } from "./station.ts";
import { person } from "./time.ts";

const KEPT = "person";
/** Whether somebody must say who is here. */
export const nobody = signal(false);
/** Whom it was tried to sign in, so that a refusal is not tried for ever. */
let tried: string | undefined;

effect(() => {
  if (standing.value !== "station" || person.value === undefined) return;
  const here = person.value;
  if (here) {
    tried = undefined;
    nobody.value = false;
    localStorage.setItem(KEPT, here.id);
    return;
  }
  const before = localStorage.getItem(KEPT);
  if (before && before !== tried) {
    tried = before;
    untracked(() => void act((station) => station.signIn(before)).catch(() => { nobody.value = true; }));
  } else nobody.value = true;
});
