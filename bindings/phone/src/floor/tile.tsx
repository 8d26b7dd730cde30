// One timer on the floor. A tap opens it, holding stops it.
import { useComputed, useSignal, type ReadonlySignal } from "@preact/signals";
import { memo } from "preact/compat";
import { useLayoutEffect, useRef } from "preact/hooks";
import { now, zone } from "../time.ts";
import { useHold } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { clockTime, countdown, t } from "../words/index.ts";
import { Comb } from "./comb.tsx";
import { state, type Running } from "./view.ts";

interface Props { timer: Running; onOpen: (timer: Running) => void; onStop: (timer: Running) => void }

/**
 * The figure and the comb follow the clock by themselves; the tile around them is drawn when the core says something new.
 * `unseen` ones stand still until they are seen. A screen reader finds them all the same, and a figure that stands still
 * would tell it what was left long ago: until then it says when the timer rings.
 */
export function Left({ timer, unseen }: { timer: Running; unseen?: ReadonlySignal<boolean> }) {
  const shown = useSignal(timer);
  shown.value = timer;
  const left = useComputed(() => {
    const { due_ms, left_ms } = shown.value;
    return due_ms === undefined ? (left_ms ?? 0) : due_ms - (unseen?.value ? now.peek() : now.value);
  });
  const figure = useComputed(() => {
    const { state, due_ms } = shown.value;
    if (state === "unreadable") return "–";
    return unseen?.value && due_ms !== undefined ? rings(shown.value, due_ms) : countdown(left.value);
  });
  const minutes = useComputed(() => Math.ceil(left.value / 60_000));
  // "+12:05" and "2 h 05" need more room than "12:05"; cut off they would say something else.
  const size = useComputed(() => (!unseen?.value && figure.value.length > 5 ? "figure-big long" : "figure-big"));
  return <><span class={size}><span>{figure}</span></span><Teeth minutes={minutes.value} /></>;
}
/** The instant of a timer; of one that is up its word says so. */
function rings({ state }: Running, due_ms: number): string {
  const time = clockTime(due_ms, zone.value);
  return state === "ringing" || state === "silenced" ? time : t("timer.due", { time });
}
const Teeth = memo(Comb);

/** Whether the browser leaves an element undrawn for being out of sight; always false where it does not say so. */
function useUnseen() {
  const element = useRef<HTMLLIElement>(null);
  const unseen = useSignal(false);
  // Before the first frame, which says it first.
  useLayoutEffect(() => {
    const follow = (event: Event) => { unseen.value = (event as ContentVisibilityAutoStateChangeEvent).skipped; };
    element.current?.addEventListener("contentvisibilityautostatechange", follow);
    return () => element.current?.removeEventListener("contentvisibilityautostatechange", follow);
  }, []);
  return { element, unseen };
}

function same(a: Props, b: Props): boolean {
  return a.onOpen === b.onOpen && a.onStop === b.onStop && JSON.stringify(a.timer) === JSON.stringify(b.timer);
}

export const TimerTile = memo(({ timer, onOpen, onStop }: Props) => {
  const { handlers } = useHold(() => onStop(timer), () => onOpen(timer));
  const { element, unseen } = useUnseen();
  const { shape, word, look } = state(timer);
  const looks = timer.look_ms === undefined ? "" : t("floor.look_at", { time: clockTime(timer.look_ms, zone.value) });
  const whose = [timer.client, timer.where, looks].filter(Boolean).join(" · ");
  return (
    <li ref={element}>
      <button type="button" class={`tile timer hold ${look}`} aria-description={t("floor.tile.how")} {...handlers}>
        <span class="top"><Shape of={shape} size={22} /><span class="word">{word ? t(word) : ""}</span></span>
        <Left timer={timer} unseen={unseen} />
        <span class="name">{timer.label}</span>
        {whose && <span class="whose">{whose}</span>}
      </button>
    </li>
  );
}, same);
