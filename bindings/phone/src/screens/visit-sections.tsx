// Putting sections on the map without typing: a part of the head, a side, how it is sliced, how many.
import { useState } from "preact/hooks";
import type { HeadPart, HeadSide, MapSection, Section, SectionMap, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { number, t } from "../words/index.ts";
import { Pick } from "../ui/ask.tsx";
import { Choice, Field, Form, Stepper } from "../ui/form.tsx";
import { Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { HeadMap, stateTold } from "../ui/head-map.tsx";
import { Button } from "../ui/press.tsx";
import { Remarks } from "../ui/remarks.tsx";
import { Work } from "../ui/work.tsx";
import { last, placeOf } from "../work/said.ts";

const parts: readonly HeadPart[] = ["fringe", "top", "crown", "occipital", "nape", "temple", "side"];
const sides: readonly HeadSide[] = ["left", "right", "both"];

export function Sections({ id }: { id: string }) {
  const live = useLive(`sections ${id}`, async (station) => ({ map: await station.sectionMap(id), view: await station.visit(id) }));
  const [editing, setEditing] = useState<{ entry?: string; said: Section } | undefined>();
  return (
    <Screen title={t("map.edit")} back={to("visit", id)}>
      <Show live={live}>
        {({ map, view }) => {
          const said = (of: MapSection) => { const item = view.sections.find((one) => one.section.id === of.id); return item && last(item.section.said); };
          return (
            <Work view={view}>
              <HeadMap map={map} />
              {map.sections.length > 0 && <Rows>{map.sections.map((one) => { const section = said(one); return <Row key={one.id} {...(one.asks ? { shape: "asks" as const } : {})} title={`${one.label} · ${one.name}`} detail={[placeOf(one) !== one.name && placeOf(one), one.shape, one.strokes && strokesTold(one), stateTold(one)].filter(Boolean).join(" · ")} {...(section ? { onPress: () => setEditing({ entry: one.id, said: section }) } : {})} />; })}</Rows>}
              <Button look="main" big wide onPress={() => setEditing({ said: empty(map) })}>{t("section.add")}</Button>
              {editing && <Edit id={id} view={view} map={map} {...editing} onClose={() => setEditing(undefined)} />}
            </Work>
          );
        }}
      </Show>
    </Screen>
  );
}

const empty = (map: SectionMap): Section => ({ name: "", area: "", symbol: "", shape: "", direction: "", order: map.sections.length, left_out: false, strokes: null });
const strokesTold = (one: MapSection) => (one.strokes ? t(`strokes.${one.strokes.by}.n`, { n: one.strokes.count }) : "");

function Edit({ id, view, map, entry, said, onClose }: { id: string; view: VisitView; map: SectionMap; entry?: string; said: Section; onClose: () => void }) {
  const known = map.sections.find((one) => one.id === entry)?.on_head;
  const [now, setNow] = useState(said);
  const [part, setPart] = useState<HeadPart | undefined>(known?.part);
  const [side, setSide] = useState<HeadSide>(known?.side ?? "both");
  const { busy, error, run } = useAct();
  // The core reads places in its own words; the name is what people read, in theirs.
  const place = (nextPart: HeadPart | undefined, nextSide: HeadSide) => {
    setPart(nextPart); setSide(nextSide);
    if (!nextPart) return;
    const own = nextSide === "both" ? t(`part.${nextPart}`) : `${t(`part.${nextPart}`)} ${t(`side.${nextSide}`)}`;
    const kept = entry || parts.every((one) => !now.name.startsWith(t(`part.${one}`))) && now.name;
    setNow({ ...now, area: nextSide === "both" ? nextPart : `${nextPart} ${nextSide}`, name: kept ? now.name : own });
  };
  const strokes = now.strokes ?? { by: "strokes" as const, count: 0 };
  return (
    <Sheet title={entry ? now.name : t("section.add")} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeSection(id, entry, now); else await station.mapSections(id, [now]); }, onClose)}>
        <Choice label={t("section.part")} value={part} onChange={(next) => place(next, side)} options={parts.map((one) => ({ value: one, text: t(`part.${one}`) }))} />
        <Choice label={t("section.side")} value={side} onChange={(next) => place(part, next)} options={sides.map((one) => ({ value: one, text: t(`side.${one}`) }))} />
        <Field label={t("section.name")} value={now.name} onChange={(name) => setNow({ ...now, name })} />
        <Pick label={t("section.shape")} value={now.shape} onChange={(shape) => setNow({ ...now, shape })} options={(["horizontal", "diagonal", "vertical", "triangle"] as const).map((one) => ({ value: t(`shape.${one}`), text: t(`shape.${one}`) }))} />
        <Choice label={t("section.by")} value={strokes.by} onChange={(by) => setNow({ ...now, strokes: { by, count: strokes.count || 6 } })} options={[{ value: "strokes", text: t("strokes.strokes") }, { value: "foils", text: t("strokes.foils") }]} />
        <Stepper label={t("section.count")} value={strokes.count} step={1} max={500} show={(n) => (n ? number(n) : t("not.said"))} onChange={(count) => setNow({ ...now, strokes: count ? { ...strokes, count } : null })} />
        <Choice label={t("section.work")} value={now.left_out ? "out" : "in"} onChange={(next) => setNow({ ...now, left_out: next === "out" })} options={[{ value: "in", text: t("section.planned") }, { value: "out", text: t("section.left_out") }]} />
        {entry && <Remarks visit={id} view={view} on="section" entry={entry} />}
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!now.name.trim()}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => void run((station) => station.removeSection(id, entry, ""), onClose)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
