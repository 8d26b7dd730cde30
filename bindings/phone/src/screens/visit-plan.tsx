// The plan: the goal in the client's words, what each zone should become, notes. Before goal and after it in one strip.
import { useState } from "preact/hooks";
import type { ClientView, Target, Topic, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { clockTime, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Part, Pick, Reason } from "../ui/ask.tsx";
import { Choice, Field, Form, Stepper } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { Remarks } from "../ui/remarks.tsx";
import { Overrides, StopNote } from "../ui/stop.tsx";
import { LevelRow, ToneStrip } from "../ui/tone.tsx";
import { Work } from "../ui/work.tsx";
import { last, level, listed, zoneName, zones } from "../work/said.ts";
import { strips } from "../work/strips.ts";

const topics: readonly Topic[] = ["plan", "work", "cut", "styling", "home_care"];
export const toneChoices = () => (["natural", "ash", "beige", "gold", "copper", "red", "violet", "pearl"] as const).map((one) => ({ value: t(`tone.${one}`), text: t(`tone.${one}`) }));

export function Plan({ id }: { id: string }) {
  const live = useLive(`plan ${id}`, async (station) => {
    const view = await station.visit(id);
    return { view, stop: await station.stop(id), warnings: await station.hairWarnings(id), card: view.opening ? await station.client(view.opening.client) : undefined };
  });
  const [target, setTarget] = useState<{ entry?: string; said: Target } | undefined>();
  const [note, setNote] = useState<{ entry?: string; topic: Topic; text: string } | undefined>();
  return (
    <Screen title={t("plan.title")} back={to("visit", id)}>
      <Show live={live}>
        {({ view, stop, warnings, card }) => (
          <Work view={view}>
            {stop.stands && <StopNote visit={id} stop={stop} />}
            <Overrides visit={id} of={view.overrides} />
            {stop.asks.length > 0 && <Rows><Row shape="asks" title={t("ask.open", { n: stop.asks.length })} href={to("visit", id, "questions")} /></Rows>}
            <GoalPart id={id} view={view} />
            {warnings.length > 0 && <Part title={t("hair.warnings")}>{warnings.map((one, i) => <Note key={i} kind={one.kind === "line" ? "plain" : one.kind === "incompatible" ? "off" : "look"}><span>{told(one.text)}</span></Note>)}</Part>}
            <Targets view={view} card={card} onEdit={setTarget} />
            <Part title={t("notes.title")} beside={<Button onPress={() => setNote({ topic: "plan", text: "" })}>{t("do.add")}</Button>}>
              {view.notes.length === 0 ? <p class="quiet">{t("notes.none")}</p> : (
                <Rows>{listed(view.notes).map(({ id: entry, value, item }) => { const by = item.said.versions.at(-1)!; return <Row key={entry} title={value.text} detail={`${t(`topic.${value.topic}`)} · ${personName(by.by)} ${clockTime(by.at.ms, zone.value)}`} onPress={() => setNote({ entry, ...value })} />; })}</Rows>
              )}
            </Part>
            {target && <EditTarget id={id} view={view} {...target} onClose={() => setTarget(undefined)} />}
            {note && <EditNote id={id} {...note} onClose={() => setNote(undefined)} />}
          </Work>
        )}
      </Show>
    </Screen>
  );
}

function GoalPart({ id, view }: { id: string; view: VisitView }) {
  const said = (view.goal && last(view.goal.said)?.words) ?? "";
  const [words, setWords] = useState<string | undefined>();
  const { busy, error, run } = useAct();
  return (
    <Form onSubmit={() => void run((station) => station.setGoal(id, (words ?? said).trim()), () => setWords(undefined))}>
      <Field label={t("plan.goal")} hint={t("plan.goal.hint")} value={words ?? said} onChange={setWords} lines={2} />
      <Trouble error={error} />
      {words !== undefined && words.trim() !== said && <Button look="main" wide submit busy={busy} disabled={!words.trim()}>{t("do.save")}</Button>}
    </Form>
  );
}

function Targets({ view, card, onEdit }: { view: VisitView; card: ClientView | undefined; onEdit: (edit: { entry?: string; said: Target }) => void }) {
  const targets = listed(view.targets);
  const free = zones.filter((zone) => !targets.some((one) => one.value.zone === zone.name));
  return (
    <Part title={t("plan.targets")}>
      {targets.length > 0 && <ToneStrip of={strips(view, card)} />}
      <Rows>
        {targets.map(({ id, value, asks }) => <Row key={id} {...(asks ? { shape: "asks" as const } : {})} title={zoneName(value.zone)} detail={[value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.tone, value.note].filter(Boolean).join(" · ") || t("not.said")} onPress={() => onEdit({ entry: id, said: value })} />)}
        {free.map((one) => <Row key={one.name} shape="plus" title={t("plan.add_zone", { zone: t(one.key) })} onPress={() => onEdit({ said: { zone: one.number, level_tenths: null, tone: "", note: "" } })} />)}
        <Row shape="plus" title={t("plan.add_other")} onPress={() => onEdit({ said: { zone: "", level_tenths: null, tone: "", note: "" } })} />
      </Rows>
    </Part>
  );
}

function EditTarget({ id, view, entry, said, onClose }: { id: string; view: VisitView; entry?: string; said: Target; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const { busy, error, run } = useAct();
  const tenths = now.level_tenths ?? 0;
  return (
    <Sheet title={now.zone ? zoneName(now.zone) : t("plan.add_other")} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeTarget(id, entry, now); else await station.addTargets(id, [now]); }, onClose)}>
        {!zones.some((one) => one.name === said.zone || one.number === said.zone) && <Field label={t("zone.title")} value={now.zone} onChange={(name) => setNow({ ...now, zone: name })} />}
        <Stepper label={t("plan.level")} value={tenths} step={5} max={120} show={(n) => (n ? level(n) : t("not.said"))} onChange={(n) => setNow({ ...now, level_tenths: n >= 10 ? n : tenths ? null : 70 })} />
        {tenths > 0 && <LevelRow tenths={tenths} />}
        <Pick label={t("plan.tone")} value={now.tone} onChange={(tone) => setNow({ ...now, tone })} options={toneChoices()} />
        <Field label={t("field.note")} value={now.note} onChange={(note) => setNow({ ...now, note })} />
        {entry && <Remarks visit={id} view={view} on="target" entry={entry} />}
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!now.zone.trim()}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => void run((station) => station.removeTarget(id, entry, ""), onClose)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}

function EditNote({ id, entry, topic, text, onClose }: { id: string; entry?: string; topic: Topic; text: string; onClose: () => void }) {
  const [now, setNow] = useState({ topic, text });
  const [removing, setRemoving] = useState(false);
  const { busy, error, run } = useAct();
  if (removing && entry) return <Reason title={t("do.remove")} go={t("do.remove")} needed={false} error={error} onClose={onClose} onGo={(why) => void run((station) => station.removeNote(id, entry, why), onClose)} />;
  return (
    <Sheet title={t("notes.title")} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeNote(id, entry, now.topic, now.text.trim()); else await station.addNote(id, now.topic, now.text.trim()); }, onClose)}>
        <Choice label={t("notes.topic")} value={now.topic} onChange={(next) => setNow({ ...now, topic: next })} options={topics.map((one) => ({ value: one, text: t(`topic.${one}`) }))} />
        <Field label={t("field.note")} value={now.text} onChange={(next) => setNow({ ...now, text: next })} lines={3} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!now.text.trim()}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => setRemoving(true)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
