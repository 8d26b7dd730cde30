// Salon time on the page: the last moment that the core told, and what has passed since by the page's own clock. The core
// is asked again every half minute and whenever the page comes back, so a clock that was set or slept is soon put right.
import { computed, signal } from "@preact/signals";
import { always } from "./live.ts";

const told = always(async (station) => {
  const moment = await station.now();
  return { ms: moment.ms, at: Date.now() };
});

const beat = signal(Date.now());

/** Salon time by the page, in milliseconds; changes on the beat, a little after every full second. */
export const now = computed(() => {
  const answer = told.answer.value;
  return answer.state === "here" ? answer.value.ms + (beat.value - answer.value.at) : beat.value;
});
/** Salon time at this very instant. */
export function instant(): number {
  const answer = told.answer.peek();
  return answer.state === "here" ? answer.value.ms + (Date.now() - answer.value.at) : Date.now();
}

/** Something on the screen was just asked: it counts from now, not from the last beat. */
export const tick = () => { beat.value = Date.now(); };

let asked = Date.now();
setInterval(() => {
  const wall = Date.now();
  // A gap means that the page or the whole device stood still.
  if (wall - asked > 30_000 || wall - beat.peek() > 5_000 || wall < beat.peek()) {
    asked = wall;
    void told.again();
  }
  beat.value = wall;
}, 1_000);

const house = always((station) => station.salon());
/** The salon as its document says; undefined until it is read. */
export const salon = computed(() => (house.answer.value.state === "waiting" ? undefined : house.answer.value.value));
/** The salon's time zone. */
export const zone = computed(() => salon.value?.zone.versions.at(-1)?.value ?? Intl.DateTimeFormat().resolvedOptions().timeZone);
export const salonName = computed(() => salon.value?.name.versions.at(-1)?.value ?? "");
/** How this salon weighs. */
export const weights = computed(() => salon.value?.policies.weights?.versions.at(-1)?.value ?? "grams");
export const lengths = computed(() => salon.value?.policies.lengths?.versions.at(-1)?.value ?? "centimetres");

const me = always((station) => station.me());
/** Who is signed in here; null: nobody, undefined: not read yet. */
export const person = computed(() => (me.answer.value.state === "waiting" ? undefined : (me.answer.value.value ?? null)));

/** What a person or a thing is called, by the last word on it. */
export const said = <T,>(register: { versions: { value: T }[] } | undefined) => register?.versions.at(-1)?.value;
export const personName = (id: string) => said(salon.value?.people.find((one) => one.id === id)?.name) ?? "?";

