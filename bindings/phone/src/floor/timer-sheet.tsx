// One timer, opened from the floor: gloves' buttons here too.
import { act } from "../live.ts";
import { has, to } from "../route.ts";
import { zone } from "../time.ts";
import { Note, Sheet } from "../ui/frame.tsx";
import { HoldButton } from "../ui/press.tsx";
import { Shape, type ShapeName } from "../ui/shape.tsx";
import { canSpeak, speak } from "../alarm/aloud.ts";
import { clockTime, minutes, t } from "../words/index.ts";
import { Keys } from "./keys.tsx";
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
  const tile = (shape: ShapeName, name: string, onPress: () => void, look = "") => (
    <button type="button" key={name} class={`tile ${look}`} onClick={onPress}><Shape of={shape} size={36} /><span class="name">{name}</span></button>
  );
  const works = !isRinse && timer.state !== "unreadable";
  return (
    <Sheet title={timer.label} onClose={onClose} gloves>
      <div class="read" role="region" aria-label={timer.label} tabIndex={0}>
        <h2>{timer.label}</h2>
        <div class={`tile timer shown ${look}`}>
          <span class="top"><Shape of={shape} size={22} /><span class="word">{word ? t(word) : ""}</span></span>
          <Left timer={timer} />
          {(timer.client || timer.where) && <span class="whose">{[timer.client, timer.where].filter(Boolean).join(" · ")}</span>}
        </div>
        {timer.asks && <Note kind="look" shape="asks"><span>{t("timer.asks")}</span></Note>}
        {isRinse && <Note kind="off"><span>{t("timer.rinse")}</span></Note>}
        <ul class="facts">
          {timer.due_ms !== undefined && !(isRinse && timer.state !== "running") && <li>{t("timer.due", { time: clockTime(timer.due_ms, zone.value) })}</li>}
          {timer.look_ms !== undefined && <li>{t("timer.look", { time: clockTime(timer.look_ms, zone.value) })}</li>}
          {timer.holders.length > 0 && <li>{t("timer.holders", { names: timer.holders.map((one) => one.name).join(", ") })}</li>}
          {timer.certainty?.certainty === "within" && timer.certainty.ms > 2_000 && <li>{t("timer.within", { seconds: Math.ceil(timer.certainty.ms / 1000) })}</li>}
          {timer.certainty?.certainty === "unknown" && <li>{t("timer.unsure")}</li>}
        </ul>
      </div>
      <Keys onClose={onClose} of={[
        rings && tile("sound", t("timer.silence"), () => close(act((station) => station.silenceTimer(timer.at))), "main"),
        works && tile("plus", minutes(MORE_MS), () => close(doUndoably(t("floor.extended", { what: timer.label, time: minutes(MORE_MS) }),
          (station) => station.extendTimer(timer.at, MORE_MS), (station) => station.undo(timer.at.doc)))),
        !isRinse && <HoldButton key="stop" class="tile grave" name={t("timer.stop")} onHeld={() => { onStop(timer); onClose(); }}><Shape of="close" size={36} /><span class="name">{t("timer.stop")}</span></HoldButton>,
        works && tile(still ? "comb" : "paused", still ? t("timer.resume") : t("timer.pause"), () => close(act((station) => (still ? station.resumeTimer(timer.at) : station.pauseTimer(timer.at))))),
        works && tile("people", t("timer.take"), () => close(act((station) => station.takeTimer(timer.at)))),
        timer.at.doc.startsWith("visit/") && has("visit", timer.at.doc) && <a key="visit" class="tile" href={to("visit", timer.at.doc)}><Shape of="next" size={36} /><span class="name">{t("timer.visit")}</span></a>,
        canSpeak && tile("sound", t("timer.say"), () => speak(timer)),
      ]} />
    </Sheet>
  );
}
