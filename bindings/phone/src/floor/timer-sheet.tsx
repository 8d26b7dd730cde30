// One timer, opened from the floor: gloves' buttons here too.
import { act } from "../live.ts";
import { has, to } from "../route.ts";
import { zone } from "../time.ts";
import { Note, Sheet } from "../ui/frame.tsx";
import { HoldButton } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { canSpeak, speak } from "../alarm/aloud.ts";
import { clockTime, minutes, t } from "../words/index.ts";
import { Left } from "./tile.tsx";
import { doUndoably, say } from "./undo.tsx";
import { state, type Running } from "./view.ts";

const MORE_MS = 5 * 60_000;

export function TimerSheet({ timer, onClose, onStop }: { timer: Running; onClose: () => void; onStop: (timer: Running) => void }) {
  const { shape, word, look } = state(timer);
  const rings = timer.state === "ringing" || timer.state === "check_due";
  const isRinse = timer.kind === "rinse";
  const still = timer.state === "paused";
  const close = (work: Promise<unknown>) => void work.then(onClose, (error: unknown) => { say(error); onClose(); });
  return (
    <Sheet title={timer.label} onClose={onClose} gloves>
      <div class={`tile timer shown ${look}`}>
        <span class="top"><Shape of={shape} size={22} /><span class="word">{word ? t(word) : ""}</span></span>
        <Left timer={timer} />
        {(timer.client || timer.where) && <span class="whose">{[timer.client, timer.where].filter(Boolean).join(" · ")}</span>}
      </div>
      <ul class="facts">
        {timer.due_ms !== undefined && <li>{t("timer.due", { time: clockTime(timer.due_ms, zone.value) })}</li>}
        {timer.look_ms !== undefined && <li>{t("timer.look", { time: clockTime(timer.look_ms, zone.value) })}</li>}
        {timer.holders.length > 0 && <li>{t("timer.holders", { names: timer.holders.map((one) => one.name).join(", ") })}</li>}
        {timer.certainty?.certainty === "within" && timer.certainty.ms > 2_000 && <li>{t("timer.within", { seconds: Math.ceil(timer.certainty.ms / 1000) })}</li>}
        {timer.certainty?.certainty === "unknown" && <li>{t("timer.unsure")}</li>}
      </ul>
      {timer.asks && <Note kind="look" shape="asks"><span>{t("timer.asks")}</span></Note>}
      {isRinse && <Note kind="off"><span>{t("timer.rinse")}</span></Note>}
      <div class="glove-grid">
        {rings && <button type="button" class="tile main" onClick={() => close(act((station) => station.silenceTimer(timer.at)))}><Shape of="sound" size={36} /><span class="name">{t("timer.silence")}</span></button>}
        {!isRinse && timer.state !== "unreadable" && (
          <>
            <button type="button" class="tile" onClick={() => {
              close(doUndoably(t("floor.extended", { what: timer.label, time: minutes(MORE_MS) }),
                (station) => station.extendTimer(timer.at, MORE_MS), (station) => station.undo(timer.at.doc)));
            }}><Shape of="plus" size={36} /><span class="name">{minutes(MORE_MS)}</span></button>
            <button type="button" class="tile" onClick={() => close(act((station) => (still ? station.resumeTimer(timer.at) : station.pauseTimer(timer.at))))}>
              <Shape of={still ? "comb" : "paused"} size={36} /><span class="name">{still ? t("timer.resume") : t("timer.pause")}</span>
            </button>
            <button type="button" class="tile" onClick={() => close(act((station) => station.takeTimer(timer.at)))}><Shape of="people" size={36} /><span class="name">{t("timer.take")}</span></button>
          </>
        )}
        {canSpeak && <button type="button" class="tile" onClick={() => speak(timer)}><Shape of="sound" size={36} /><span class="name">{t("timer.say")}</span></button>}
        {timer.at.doc.startsWith("visit/") && has("visit", timer.at.doc) && <a class="tile" href={to("visit", timer.at.doc)}><Shape of="next" size={36} /><span class="name">{t("timer.visit")}</span></a>}
        {!isRinse && <HoldButton class="tile grave" name={t("timer.stop")} onHeld={() => { onStop(timer); onClose(); }}><Shape of="close" size={36} /><span class="name">{t("timer.stop")}</span></HoldButton>}
        <button type="button" class="tile" onClick={onClose}><Shape of="back" size={36} /><span class="name">{t("nav.close")}</span></button>
      </div>
    </Sheet>
  );
}
