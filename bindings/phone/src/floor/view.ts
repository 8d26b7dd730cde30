// The floor as the core reads it, asked once for all who show it, and what a tile needs of it.
import { computed, effect } from "@preact/signals";
import type { Alarm, Certainty, FloorTimer, FloorVisit, Named, TimerKind, TimerRef, TimerState } from "@tailcomb/web/types";
import { always } from "../live.ts";
import { instant, tick } from "../time.ts";
import type { ShapeName } from "../ui/shape.tsx";
import { t, type PlainKey } from "../words/index.ts";
import { told } from "../words/told.ts";

const asked = always((station) => station.floor());
/** How close the maker's longest time must be to stand among the timers. */
const RINSE_SHOWS_MS = 10 * 60_000;
/** An alarm to rinse rings again and again; what a floor counts from is when the maker's longest time was reached. */
type Rinse = Alarm & { reached_ms: number };
const rinses = always(async (station): Promise<Rinse[]> => {
  const all = await station.rinseAlarms();
  const near = new Set(all.filter((one) => one.due_ms - instant() < RINSE_SHOWS_MS).map((one) => one.doc));
  // One that cannot be read, erased meanwhile, must take no other from the floor.
  const briefs = await Promise.all([...near].map((visit) => station.brief(visit).catch(() => undefined)));
  const reached = new Map(briefs.flatMap((of) => of ? [of.brief] : []).flatMap((brief) => brief.on_hair.flatMap((one) =>
    one.longest_left_ms === null ? [] : [[keyOf({ doc: brief.visit, timer: one.section }), one.since.ms + one.elapsed_ms + one.longest_left_ms] as const])));
  return all.map((one) => ({ ...one, reached_ms: reached.get(keyOf(one)) ?? one.due_ms }));
});
export const floor = asked.answer;
effect(() => { if (floor.value.state === "here") tick(); });

/** A timer, or the maker's longest time on a section, as one tile. */
export interface Running {
  at: TimerRef;
  kind: TimerKind;
  label: string;
  client: string;
  where: string;
  state: TimerState;
  /** Undefined while it stands still. */
  due_ms: number | undefined;
  /** What was left when it was asked: for one that stands still. */
  left_ms: number | undefined;
  look_ms: number | undefined;
  certainty: Certainty | undefined;
  holders: Named[];
  asks: boolean;
}

function ofTimer(one: FloorTimer): Running {
  return {
    at: { doc: one.doc, timer: one.timer }, kind: one.kind, label: told(one.label) || t(`kind.${one.kind}`), client: one.client_name,
    where: [one.bowl && told(one.bowl), ...one.sections].filter(Boolean).join(", "), state: one.state,
    due_ms: one.due_ms ?? undefined, left_ms: one.remaining_ms ?? undefined, look_ms: one.next_check_ms ?? undefined,
    certainty: one.certainty, holders: one.holders, asks: one.asks,
  };
}
function ofRinse(one: Rinse, visit: FloorVisit | undefined, now_ms: number): Running {
  return {
    at: { doc: one.doc, timer: one.timer }, kind: "rinse", label: told(one.label), client: visit?.client_name ?? "", where: "",
    state: one.due_ms <= now_ms ? "ringing" : one.reached_ms <= now_ms ? "silenced" : "running", due_ms: one.reached_ms, left_ms: undefined, look_ms: undefined,
    certainty: undefined, holders: [], asks: false,
  };
}

/** What runs, the first due first; what stands still comes last. */
export const running = computed<Running[]>(() => {
  const answer = floor.value;
  if (answer.state === "waiting" || !answer.value) return [];
  const { timers, visits, now } = answer.value;
  const byId = new Map(visits.map((visit) => [visit.visit, visit]));
  const limits = rinses.answer.value.state === "here" ? rinses.answer.value.value : [];
  const all = [
    ...timers.map(ofTimer),
    ...limits.filter((one) => one.due_ms - now.ms < RINSE_SHOWS_MS).map((one) => ofRinse(one, byId.get(one.doc), now.ms)),
  ];
  return all.sort((a, b) => (a.due_ms ?? Infinity) - (b.due_ms ?? Infinity));
});

export const keyOf = (at: TimerRef) => `${at.doc} ${at.timer}`;

/** The word and the shape of a state; a timer that simply runs has no word, its figure says it. */
export function state(one: Pick<Running, "state" | "asks" | "kind">): { shape: ShapeName; word: PlainKey | undefined; look: "" | "look" | "off" | "late" | "still" } {
  if (one.state === "ringing") return { shape: "off", word: one.kind === "rinse" ? "floor.rinse" : "floor.up", look: "off" };
  if (one.state === "check_due") return { shape: "look", word: "floor.look", look: "look" };
  if (one.asks) return { shape: "asks", word: "floor.asks", look: "look" };
  if (one.state === "silenced") return { shape: "late", word: one.kind === "rinse" ? "floor.rinse" : "floor.silenced", look: "late" };
  if (one.state === "paused") return { shape: "paused", word: "floor.paused", look: "still" };
  if (one.state === "unreadable") return { shape: "unread", word: "floor.unread", look: "still" };
  return { shape: "comb", word: undefined, look: "" };
}
