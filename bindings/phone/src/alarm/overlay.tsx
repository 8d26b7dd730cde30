// An alarm over everything: a shape, a word, and one place to silence it, here and at every other station.
import { useEffect, useRef, useState } from "preact/hooks";
import type { Alarm } from "@tailcomb/web/types";
import { act, refusal } from "../live.ts";
import { locked } from "../floor/lock.tsx";
import { keyOf, running } from "../floor/view.ts";
import { sound } from "../settings.ts";
import { now } from "../time.ts";
import { HoldButton } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { countdown, t } from "../words/index.ts";
import { refused, told } from "../words/told.ts";
import { ringing } from "./alarms.ts";
import { audible } from "./sound.ts";

/** A finger that was already on its way when the alarm came up does not silence it. */
const SETTLE_MS = 700;

export function AlarmOverlay() {
  const all = ringing.value;
  return all.length === 0 ? null : <Overlay all={all} />;
}

function Overlay({ all }: { all: readonly Alarm[] }) {
  const dialog = useRef<HTMLDialogElement>(null);
  const [shownAt] = useState(() => performance.now());
  const [trouble, setTrouble] = useState("");
  useEffect(() => {
    const shown = dialog.current;
    shown?.showModal();
    // Not the face, which comes first and only scrolls.
    shown?.querySelector<HTMLElement>(".loud")?.focus();
    return () => shown?.close();
  }, []);
  const grave = all.filter((one) => !one.is_check);
  const first = (grave[0] ?? all[0])!;
  const kind = first.kind === "rinse" ? "rinse" : first.is_check ? "look" : "up";
  const of = running.value.find((one) => keyOf(one.at) === keyOf(first));
  // One to rinse comes again: how long the product is over the label's time does not begin anew.
  const since_ms = (kind === "rinse" && of?.due_ms) || first.due_ms;
  const work = (what: Promise<unknown>) => void what.then(() => setTrouble(""), (error: unknown) => setTrouble(refused(refusal(error))));
  const silence = () => {
    if (performance.now() - shownAt < SETTLE_MS) return;
    work(act<unknown>((station) => (all.length > 1 ? station.silenceAll() : station.silenceTimer({ doc: first.doc, timer: first.timer }))));
  };
  const stop = () => work(act((station) => station.stopTimer({ doc: first.doc, timer: first.timer })));
  const words = all.length > 1 ? t("alarm.silence_all", { n: all.length }) : t("timer.silence");
  return (
    <dialog ref={dialog} class={`alarm ${kind}`} role="alertdialog" aria-labelledby="alarm-word" onCancel={(event) => { event.preventDefault(); silence(); }}>
      <div class="face" role="region" aria-labelledby="alarm-word" tabIndex={0}>
        <Shape of={kind === "look" ? "look" : "off"} size={150} />
        <h2 id="alarm-word">{t(kind === "rinse" ? "floor.rinse" : kind === "look" ? "floor.look" : "floor.up")}</h2>
        <p class="what">{[of?.client, told(first.label) || t(`kind.${first.kind}`)].filter(Boolean).join(" · ")}</p>
        {of?.where && <p>{of.where}</p>}
        <p class="since">{countdown(Math.min(-1000, since_ms - now.value))}</p>
        {kind === "rinse" && <p>{t("timer.rinse")}</p>}
        {all.length > 1 && <ul class="others">{all.filter((one) => one !== first).slice(0, 4).map((one) => <li key={`${one.doc}${one.timer}`}>{told(one.label) || t(`kind.${one.kind}`)}</li>)}</ul>}
        {sound.value === "on" && !audible.value && <p class="small">{t("alarm.mute")}</p>}
        {trouble && <p role="alert">{trouble}</p>}
      </div>
      <div class="keys">
        {locked.value
          ? <HoldButton class="tile loud" name={t("alarm.hold")} onHeld={silence}><Shape of="sound" size={44} /><span class="name">{t("alarm.hold")}</span></HoldButton>
          : <button type="button" class="tile loud" onClick={silence}><Shape of="sound" size={44} /><span class="name">{words}</span></button>}
        {kind === "up" && all.length === 1 && <HoldButton class="tile" name={t("timer.stop")} onHeld={stop}><Shape of="close" size={36} /><span class="name">{t("timer.stop")}</span></HoldButton>}
      </div>
    </dialog>
  );
}
