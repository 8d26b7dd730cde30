// A trainer's word on a plan: the plan as it stands on this screen is what is agreed to; what changes later makes it stale.
import { useState } from "preact/hooks";
import type { Briefing, Countersign, HairWarning, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, person, said, salon, zone } from "../time.ts";
import { clockTime, ratio, t, volumes } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Part } from "../ui/ask.tsx";
import { Choice, Field } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button, HoldButton } from "../ui/press.tsx";
import { Remarks } from "../ui/remarks.tsx";
import { Overrides, StopNote } from "../ui/stop.tsx";
import { isClosed, Work } from "../ui/work.tsx";
import { last, level, listed, zoneName } from "../work/said.ts";
import { shareTold } from "./visit-formulas.tsx";

export function SignOff({ id }: { id: string }) {
  const live = useLive(`sign ${id}`, async (station) => ({ view: await station.visit(id), briefing: await station.brief(id), warnings: await station.hairWarnings(id) }));
  return <Screen title={t("sign.off.title")} back={to("visit", id)}><Show live={live}>{(shown) => <Work view={shown.view}><Sign id={id} {...shown} /></Work>}</Show></Screen>;
}

const when = (ms: number) => clockTime(ms, zone.value);

function Sign({ id, view, briefing, warnings }: { id: string; view: VisitView; briefing: Briefing; warnings: HairWarning[] }) {
  return (
    <>
      {briefing.stop.stands && <StopNote visit={id} stop={briefing.stop} />}
      <Overrides visit={id} of={view.overrides} />
      {briefing.lacks ? <Note kind="look" shape="asks"><strong>{t(`lack.${briefing.lacks}`)}</strong></Note> : <p class="quiet">{t("sign.off.nothing")}</p>}
      {warnings.map((one, i) => <Note key={i} kind="look"><span>{told(one.text)}</span></Note>)}
      <PlanToRead id={id} view={view} />
      {view.countersigns.length > 0 && <Part title={t("sign.off.said")}>{[...view.countersigns].reverse().map((one) => <Said key={one.id} of={one} />)}</Part>}
      {!isClosed(view) && <Word id={id} view={view} />}
    </>
  );
}

/** What whoever is signed in can say to it: a trainer decides, others ask one. */
function Word({ id, view }: { id: string; view: VisitView }) {
  const [note, setNote] = useState("");
  const [of, setOf] = useState("any");
  const { busy, error, run } = useAct();
  const role = person.value ? said(person.value.role) : undefined;
  const trainers = (salon.value?.people ?? []).filter((one) => said(one.role) === "trainer" && said(one.active) !== false);
  const open = view.countersigns.filter((one) => one.state === "waiting" || one.state === "stale");
  const mine = open.some((one) => one.by === person.value?.id);
  return (
    <>
      <Field label={role === "trainer" ? t("sign.off.remark") : t("sign.off.note")} value={note} onChange={setNote} lines={2} />
      <Trouble error={error} />
      {role === "trainer" ? (
        <div class="stack near">
          {open.length > 0 ? (
            <>
              <HoldButton wide big look="main" name={t("sign.off.agree")} onHeld={() => void run((station) => station.countersign(id, view.plan_seen, true, note.trim()), () => setNote(""))}>{t("hold.to", { what: t("sign.off.agree") })}</HoldButton>
              <Button wide big busy={busy} disabled={!note.trim()} onPress={() => void run((station) => station.countersign(id, view.plan_seen, false, note.trim()), () => setNote(""))}>{note.trim() ? t("sign.off.change") : t("sign.off.change.first")}</Button>
            </>
          ) : (
            <HoldButton wide big name={t("sign.off.decide")} onHeld={() => void run((station) => station.decide(id, view.plan_seen, note.trim()), () => setNote(""))}>{t("hold.to", { what: t("sign.off.decide") })}</HoldButton>
          )}
        </div>
      ) : (
        <div class="stack">
          {trainers.length > 0 && <Choice label={t("sign.off.whom")} value={of} onChange={setOf} options={[{ value: "any", text: t("sign.off.any") }, ...trainers.map((one) => ({ value: one.id, text: said(one.name) ?? "?" }))]} />}
          {trainers.length === 0 && <Note kind="look">{t("sign.off.no_trainer")}</Note>}
          <Button look="main" wide big busy={busy} onPress={() => void run((station) => station.askCountersign(id, of === "any" ? null : of, note.trim()), () => setNote(""))}>{t("sign.off.ask")}</Button>
        </div>
      )}
      {mine && <Button wide onPress={() => void run((station) => station.withdrawCountersign(id))}>{t("sign.off.withdraw")}</Button>}
    </>
  );
}

function Said({ of }: { of: Countersign }) {
  return (
    <article class="card">
      <div class="part-head"><strong>{t("sign.off.asked", { who: personName(of.by), whom: of.of ? personName(of.of) : t("sign.off.any") })}</strong><span class="small quiet">{when(of.at.ms)}</span></div>
      <span>{t(`sign.state.${of.state}`)}</span>
      {of.note && <p>“{of.note}”</p>}
      {of.answers.map((one) => (
        <Note key={one.rev} kind={one.agrees && one.changed_since.length === 0 ? "plain" : "look"} shape={one.agrees ? "look" : "asks"}>
          <strong>{personName(one.by)}: {one.decided ? t("sign.off.decided") : one.agrees ? t("sign.off.agreed") : t("sign.off.wants")} · {when(one.at.ms)}</strong>
          {one.note && <span>“{one.note}”</span>}
          {one.changed_since.length > 0 && <span>{t("sign.off.changed_since", { n: one.changed_since.length })}</span>}
        </Note>
      ))}
    </article>
  );
}

/** The whole plan, as whoever countersigns must read it. */
function PlanToRead({ id, view }: { id: string; view: VisitView }) {
  return (
    <>
      <Part title={t("plan.title")}>
        <p><strong>{(view.goal && last(view.goal.said)?.words) || t("plan.none")}</strong></p>
        <Rows>{listed(view.targets).map(({ id: entry, value }) => <Row key={entry} title={zoneName(value.zone)} detail={[value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.tone, value.note].filter(Boolean).join(" · ")} />)}</Rows>
      </Part>
      {view.formulas.map((one) => {
        const formula = last(one.formula.said);
        return (
          <article class="card" key={one.formula.id}>
            <h2>{formula?.title ?? "?"}</h2>
            <p class="facts">{[formula?.ratio && ratio(formula.ratio), formula?.developer_mvol && volumes(formula.developer_mvol), formula?.note].filter(Boolean).join(" · ")}</p>
            <table class="parts"><tbody>{listed(one.lines).map((line) => <tr key={line.id}><th scope="row">{line.value.name}</th><td>{shareTold(line.value.share)}</td></tr>)}</tbody></table>
            <Remarks visit={id} view={view} on="formula" entry={one.formula.id} />
          </article>
        );
      })}
    </>
  );
}
