// What stands against colour, and how a named person answers for going on all the same.
import { useState } from "preact/hooks";
import type { Override, Stop } from "@tailcomb/web/types";
import { useAct } from "../live.ts";
import { personName, person, said, zone } from "../time.ts";
import { clockTime, day, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Reason } from "./ask.tsx";
import { Note } from "./frame.tsx";
import { Button } from "./press.tsx";
import { Shape } from "./shape.tsx";

export function StopNote({ visit, stop }: { visit: string; stop: Stop }) {
  const [overriding, setOverriding] = useState(false);
  const { error, run, forget } = useAct();
  const me = person.value;
  return (
    <section class="stop" aria-label={t("stop.title")}>
      <div class="head"><Shape of="off" size={44} /><h2>{t("stop.title")}</h2></div>
      <ul class="stack near">{stop.against.filter((one) => !one.overridden).map((one) => <li key={one.fact}>{told(one.text)}</li>)}</ul>
      <Button look="grave" wide onPress={() => { forget(); setOverriding(true); }}>{t("stop.override")}</Button>
      {overriding && (
        <Reason title={t("stop.override")} go={t("stop.answer", { who: (me && said(me.name)) ?? "?" })} grave error={error} onClose={() => setOverriding(false)}
          usual={[t("stop.why.consent"), t("stop.why.no_scalp"), t("stop.why.doctor")]}
          lead={<Note kind="off"><span>{t("stop.lead")}</span><ul>{stop.against.filter((one) => !one.overridden).map((one) => <li key={one.fact}>{told(one.text)}</li>)}</ul></Note>}
          onGo={(why) => void run((station) => station.overrideStop(visit, why), () => setOverriding(false))} />
      )}
    </section>
  );
}

/** Who answered for going on, and why; withdrawn by a tap and a reason. */
export function Overrides({ visit, of }: { visit: string; of: readonly Override[] }) {
  const [taking, setTaking] = useState<string | undefined>();
  const { error, run } = useAct();
  return (
    <>
      {of.map((one) => (
        <Note key={one.id} kind="off">
          <strong>{t("stop.by", { who: personName(one.by), when: `${day(one.at.ms, zone.value)} ${clockTime(one.at.ms, zone.value)}` })}</strong>
          <span>“{one.why}”</span>
          <ul class="small">{one.against.map((each) => <li key={each.fact}>{told(each.text)}</li>)}</ul>
          {one.withdrawn.map((off) => <span key={off.rev}>{t("stop.withdrawn", { who: personName(off.by), why: off.why })}</span>)}
          {one.withdrawn.length === 0 && <div><Button onPress={() => setTaking(one.id)}>{t("stop.withdraw")}</Button></div>}
        </Note>
      ))}
      {taking && <Reason title={t("stop.withdraw")} go={t("stop.withdraw")} error={error} onClose={() => setTaking(undefined)} onGo={(why) => void run((station) => station.withdrawOverride(visit, taking, why), () => setTaking(undefined))} />}
    </>
  );
}
