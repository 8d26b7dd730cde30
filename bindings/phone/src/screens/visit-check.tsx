// A look at a strand: which section, which level it reached, how warm it is, how it feels between the fingers.
import { useState } from "preact/hooks";
import type { Check, Feel, MapSection } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { clockTime, t } from "../words/index.ts";
import { Part, Pick, Reason } from "../ui/ask.tsx";
import { Field, Stepper } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { StatePatch, stateOf, stateTold } from "../ui/head-map.tsx";
import { Button } from "../ui/press.tsx";
import { LevelRow } from "../ui/tone.tsx";
import { isClosed, Work } from "../ui/work.tsx";
import { level, listed } from "../work/said.ts";

const feels: readonly Feel[] = ["firm", "stretchy", "mushy", "breaking"];

export function CheckStrand({ id }: { id: string }) {
  const live = useLive(`check ${id}`, async (station) => ({ map: await station.sectionMap(id), view: await station.visit(id) }));
  const [section, setSection] = useState<MapSection | undefined>();
  const [removing, setRemoving] = useState<string | undefined>();
  const { error, run } = useAct();
  return (
    <Screen title={section ? t("check.of", { section: section.name }) : t("check.title")} back={to("visit", id)}>
      <Show live={live}>
        {({ map, view }) => {
          if (section) return <Seen id={id} section={section} before={listed(view.checks).filter((one) => one.value.section === section.id).at(-1)?.value} onBack={() => setSection(undefined)} />;
          const on = map.sections.filter((one) => one.state === "on_hair").sort((a, b) => (a.state === "on_hair" && b.state === "on_hair" ? a.since.ms - b.since.ms : 0));
          const rest = map.sections.filter((one) => one.state !== "on_hair" && one.state !== "left_out");
          const checks = listed(view.checks).reverse();
          const name = (of: string) => map.sections.find((one) => one.id === of)?.name ?? "?";
          return (
            <Work view={view}>
              {map.sections.length === 0 && <Empty>{t("map.empty")}</Empty>}
              {!isClosed(view) && <div class="gloves">
                {[...on, ...rest].map((one) => <button type="button" key={one.id} class={`glove ${stateOf(one)}`} onClick={() => setSection(one)}><StatePatch state={stateOf(one)} size={40} /><strong>{one.label} · {one.name}</strong><span>{stateTold(one)}</span></button>)}
              </div>}
              {checks.length > 0 && (
                <Part title={t("check.before")}>
                  <Rows>
                    {checks.map(({ id: key, value, item, asks }) => {
                      const by = item.said.versions.at(-1)!;
                      return <Row key={key} shape={asks ? "asks" : value.feel === "breaking" || value.feel === "mushy" ? "warn" : "look"} title={name(value.section)} end={clockTime(by.at.ms, zone.value)}
                        detail={[value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.warmth, value.feel && t(`feel.${value.feel}`), value.note, personName(by.by)].filter(Boolean).join(" · ")} {...(isClosed(view) ? {} : { onPress: () => setRemoving(key) })} />;
                    })}
                  </Rows>
                </Part>
              )}
            </Work>
          );
        }}
      </Show>
      {removing && <Reason title={t("check.remove")} go={t("do.remove")} usual={[t("sens.mistake")]} error={error} onClose={() => setRemoving(undefined)} onGo={(why) => void run((station) => station.removeCheck(id, removing, why), () => setRemoving(undefined))} />}
    </Screen>
  );
}

function Seen({ id, section, before, onBack }: { id: string; section: MapSection; before: Check | undefined; onBack: () => void }) {
  const [tenths, setTenths] = useState(before?.level_tenths ?? 0);
  const [warmth, setWarmth] = useState("");
  const [feel, setFeel] = useState<Feel | undefined>();
  const [note, setNote] = useState("");
  const { busy, error, run } = useAct();
  const save = () => void run((station) => station.checkStrand(id, { section: section.id, level_tenths: tenths || null, warmth: warmth.trim(), feel: feel ?? null, note: note.trim() }), () => go("visit", id));
  return (
    <>
      <Stepper label={t("check.level")} value={tenths} step={5} max={120} show={(now) => (now ? level(now) : t("not.said"))} onChange={(next) => setTenths(next > 0 && next < 10 ? (tenths === 0 ? 60 : 0) : next)} />
      {tenths > 0 && <LevelRow tenths={tenths} />}
      <Pick label={t("check.warmth")} value={warmth} onChange={setWarmth} options={(["none", "red", "orange", "gold", "yellow", "pale"] as const).map((one) => ({ value: t(`warmth.${one}`), text: t(`warmth.${one}`) }))} />
      <div class="field" role="group" aria-label={t("check.feel")}>
        <span class="label">{t("check.feel")}</span>
        <div class="gloves">
          {feels.map((one) => <button type="button" key={one} class={feel === one ? "glove chosen" : "glove"} aria-pressed={feel === one} onClick={() => setFeel(one)}><strong>{t(`feel.${one}`)}</strong><span class="small">{t(`feel.${one}.means`)}</span></button>)}
        </div>
      </div>
      {(feel === "mushy" || feel === "breaking") && <Note kind="off" shape="off"><strong>{t("check.off")}</strong></Note>}
      <Field label={t("field.note")} value={note} onChange={setNote} />
      <Trouble error={error} />
      <Button look="main" wide class="glove-high" busy={busy} disabled={!tenths && !feel && !warmth.trim()} onPress={save}>{t("check.done")}</Button>
      <Button wide onPress={onBack}>{t("check.other")}</Button>
    </>
  );
}
