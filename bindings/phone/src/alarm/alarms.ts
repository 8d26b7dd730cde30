// What rings and what will: the core's alarms against the clock of the page.
import { computed, effect } from "@preact/signals";
import type { Alarm } from "@tailcomb/web/types";
import { always, askAgain } from "../live.ts";
import { now } from "../time.ts";

const asked = always((station) => station.nextAlarms(64));

export const alarms = computed<readonly Alarm[]>(() => (asked.answer.value.state === "waiting" ? [] : (asked.answer.value.value ?? [])));
/** Whether anything runs or rings. Not known yet counts as running. */
export const timersRun = computed(() => asked.answer.value.state !== "here" || alarms.value.length > 0);

const names = (list: readonly Alarm[]) => list.map((one) => `${one.doc} ${one.timer} ${one.due_ms}`).join();
const ring = computed(() => names(alarms.value.filter((one) => one.due_ms <= now.value)));
/** What rings now and nobody silenced, the longest first; the same list until something changes. */
export const ringing = computed<readonly Alarm[]>(() => {
  const all = ring.value;
  return all ? alarms.value.filter((one) => all.split(",").includes(names([one]))) : [];
});
/** What rings next. */
export const next = computed(() => alarms.value.find((one) => one.due_ms > now.value));

// When something begins to ring, what is shown is asked for anew: its state has changed though nobody did anything.
effect(() => { if (ring.value) askAgain(); });
