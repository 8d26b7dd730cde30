// How it came out, zone by zone, beside what it was and what was wanted.
import { useState } from "preact/hooks";
import type { ClientView, VisitView, ZoneResult } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { lengths } from "../time.ts";
import { t } from "../words/index.ts";
import { Part, Pick } from "../ui/ask.tsx";
import { Field, Form, Stepper } from "../ui/form.tsx";
import { Empty, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { LevelRow, ToneStrip } from "../ui/tone.tsx";
import { Work } from "../ui/work.tsx";
import { length, level, listed, zoneName, zones } from "../work/said.ts";
import { strips } from "../work/strips.ts";
import { toneChoices } from "./visit-plan.tsx";

export function Result({ id }: { id: string }) {
  const live = useLive(`result ${id}`, async (station) => {
    const view = await station.visit(id);
    return { view, card: view.opening ? await station.client(view.opening.client) : undefined };
  });
  const [editing, setEditing] = useState<{ entry?: string; said: ZoneResult } | undefined>();
  return (
    <Screen title={t("result.title")} back={to("visit", id)}>
      <Show live={live}>
        {({ view, card }) => (
          <Work view={view}>
            <Zones view={view} card={card} onEdit={setEditing} />
            {editing && <Edit id={id} {...editing} onClose={() => setEditing(undefined)} />}
          </Work>
        )}
      </Show>
    </Screen>
  );
}

function Zones({ view, card, onEdit }: { view: VisitView; card: ClientView | undefined; onEdit: (edit: { entry?: string; said: ZoneResult }) => void }) {
  const results = listed(view.results), targets = listed(view.targets);
  const strip = strips(view, card);
  const open = [...new Set([...targets.map((one) => one.value.zone), ...zones.map((one) => one.name)])].filter((name) => !results.some((one) => one.value.zone === name));
  const begin = (name: string): ZoneResult => {
    const goal = targets.find((one) => one.value.zone === name)?.value;
    return { zone: name, level_tenths: goal?.level_tenths ?? null, tone: goal?.tone ?? "", condition: "", line_um: null, note: "" };
  };
  return (
    <>
      {strip.length > 0 ? <ToneStrip of={strip} /> : <Empty>{t("result.none")}</Empty>}
      <Part title={t("result.zones")}>
        <Rows>
          {results.map(({ id, value, asks }) => <Row key={id} shape={asks ? "asks" : "look"} title={zoneName(value.zone)} detail={[value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.tone, value.condition, value.line_um && t("chem.line", { length: length(value.line_um, lengths.value) }), value.note].filter(Boolean).join(" · ")} onPress={() => onEdit({ entry: id, said: value })} />)}
          {open.map((name) => <Row key={name} shape="plus" title={t("result.add", { zone: zoneName(name) })} onPress={() => onEdit({ said: begin(name) })} />)}
        </Rows>
      </Part>
    </>
  );
}

function Edit({ id, entry, said, onClose }: { id: string; entry?: string; said: ZoneResult; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const { busy, error, run } = useAct();
  const tenths = now.level_tenths ?? 0, step = lengths.value === "inches" ? 6_350 : 5_000;
  return (
    <Sheet title={zoneName(now.zone)} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeResult(id, entry, now); else await station.addResults(id, [now]); }, onClose)}>
        <Stepper label={t("result.level")} value={tenths} step={5} max={120} show={(n) => (n ? level(n) : t("not.said"))} onChange={(n) => setNow({ ...now, level_tenths: n >= 10 ? n : tenths ? null : 70 })} />
        {tenths > 0 && <LevelRow tenths={tenths} />}
        <Pick label={t("plan.tone")} value={now.tone} onChange={(tone) => setNow({ ...now, tone })} options={toneChoices()} />
        <Pick label={t("result.condition")} value={now.condition} onChange={(condition) => setNow({ ...now, condition })} options={(["good", "dry", "stressed"] as const).map((one) => ({ value: t(`condition.${one}`), text: t(`condition.${one}`) }))} />
        <Stepper label={t("result.line")} value={now.line_um ?? 0} step={step} show={(um) => (um ? length(um, lengths.value) : t("not.said"))} onChange={(um) => setNow({ ...now, line_um: um || null })} />
        <Field label={t("field.note")} value={now.note} onChange={(note) => setNow({ ...now, note })} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => void run((station) => station.removeResult(id, entry, ""), onClose)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
