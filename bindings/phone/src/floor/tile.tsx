// One timer on the floor. A tap opens it, holding stops it.
import { useComputed, useSignal } from "@preact/signals";
import { memo } from "preact/compat";
import { now, zone } from "../time.ts";
import { useHold } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { clockTime, countdown, t } from "../words/index.ts";
import { Comb } from "./comb.tsx";
import { state, type Running } from "./view.ts";

interface Props { timer: Running; onOpen: (timer: Running) => void; onStop: (timer: Running) => void }

/** The figure and the comb follow the clock by themselves; the tile around them is drawn when the core says something new. */
export function Left({ timer }: { timer: Running }) {
  const shown = useSignal(timer);
  shown.value = timer;
  const left = useComputed(() => (shown.value.due_ms === undefined ? (shown.value.left_ms ?? 0) : shown.value.due_ms - now.value));
  const figure = useComputed(() => (shown.value.state === "unreadable" ? "–" : countdown(left.value)));
  const minutes = useComputed(() => Math.ceil(left.value / 60_000));
  return <><span class="figure-big">{figure}</span><Teeth minutes={minutes.value} /></>;
}
const Teeth = memo(Comb);

function same(a: Props, b: Props): boolean {
  return a.onOpen === b.onOpen && a.onStop === b.onStop && JSON.stringify(a.timer) === JSON.stringify(b.timer);
}

export const TimerTile = memo(({ timer, onOpen, onStop }: Props) => {
  const { handlers } = useHold(() => onStop(timer), () => onOpen(timer));
  const { shape, word, look } = state(timer);
  const looks = timer.look_ms === undefined ? "" : t("floor.look_at", { time: clockTime(timer.look_ms, zone.value) });
  const whose = [timer.client, timer.where, looks].filter(Boolean).join(" · ");
  return (
    <li>
      <button type="button" class={`tile timer hold ${look}`} aria-description={t("floor.tile.how")} {...handlers}>
        <span class="top"><Shape of={shape} size={22} /><span class="word">{word ? t(word) : ""}</span></span>
        <Left timer={timer} />
        <span class="name">{timer.label}</span>
        {whose && <span class="whose">{whose}</span>}
      </button>
    </li>
  );
}, same);
