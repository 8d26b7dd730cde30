// What was done to which zone of the hair, newest first, zone by zone.
import { useState } from "preact/hooks";
import type { Chemical, ChemicalKind } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { instant, lengths, personName, zone } from "../time.ts";
import { dayAndYear, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Part, Pick, Reason } from "../ui/ask.tsx";
import { Choice, Field, Form, Stepper } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { length, level, zoneName, zones } from "../work/said.ts";

const kinds: readonly ChemicalKind[] = ["tint", "gloss", "lightener", "colour_remover", "henna", "metallic_salts", "perm", "relaxer", "smoothing", "box_colour", "build_up"];
const DAY = 86_400_000;

export function CardHistory({ id }: { id: string }) {
  const live = useLive(`hair ${id}`, (station) => station.hairHistory(id));
  const [editing, setEditing] = useState<{ entry?: string; said: Chemical } | undefined>();
  const summed = (one: Chemical) => [one.level_tenths && t("hair.level", { level: level(one.level_tenths) }), one.line_um && t("chem.line", { length: length(one.line_um, lengths.value) }), one.note].filter(Boolean).join(" · ");
  return (
    <Screen title={t("chem.title")} back={to("client", id)}>
      <Show live={live}>
        {(history) => (
          <>
            {history.zones.length === 0 && <Empty>{t("chem.none")}</Empty>}
            {history.zones.map((one) => (
              <Part key={one.zone} title={zoneName(one.zone)}>
                {one.lightenings > 0 && <p class="facts">{t("chem.lightened", { n: one.lightenings })}</p>}
                {[one.line?.sentence, one.bonds?.sentence].map((one) => one && <p key={one.text} class="small">{told(one)}</p>)}
                {one.care.map((care) => <Note key={care.text} kind="look"><span>{told(care)}</span></Note>)}
                <Rows>
                  {one.done.map((done) => (
                    <Row key={`${done.entry} ${done.by}`} {...(done.asks ? { shape: "asks" as const } : {})} title={t(`chem.${done.said.kind}`)} end={dayAndYear(done.said.done_at_ms, zone.value)}
                      detail={[summed(done.said), personName(done.by)].filter(Boolean).join(" · ")} onPress={() => setEditing({ entry: done.entry, said: done.said })} />
                  ))}
                </Rows>
              </Part>
            ))}
            {history.note.text && <p class="quiet small">{told(history.note)}</p>}
            <Button look="main" big wide onPress={() => setEditing({ said: { zone: "", kind: "tint", done_at_ms: instant(), note: "" } })}>{t("chem.add")}</Button>
          </>
        )}
      </Show>
      {editing && <Edit client={id} {...editing} onClose={() => setEditing(undefined)} />}
    </Screen>
  );
}

function Edit({ client, entry, said, onClose }: { client: string; entry?: string; said: Chemical; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const [removing, setRemoving] = useState(false);
  const { busy, error, run } = useAct();
  if (removing && entry) return <Reason title={t("do.remove")} usual={[t("sens.mistake")]} go={t("do.remove")} grave error={error} onClose={onClose} onGo={(why) => void run((station) => station.removeChemical(client, entry, why), onClose)} />;
  const weeks = Math.round((instant() - now.done_at_ms) / (7 * DAY));
  return (
    <Sheet title={entry ? t("chem.change") : t("chem.add")} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeChemical(client, entry, now); else await station.recordChemical(client, now); }, onClose)}>
        <Choice label={t("chem.what")} value={now.kind} onChange={(kind) => setNow({ ...now, kind })} options={kinds.map((kind) => ({ value: kind, text: t(`chem.${kind}`) }))} />
        <Pick label={t("zone.title")} value={now.zone} onChange={(name) => setNow({ ...now, zone: name })} options={zones.map((one) => ({ value: one.name, text: t(one.key) }))} />
        <Stepper label={t("chem.ago")} value={weeks} step={1} max={520} show={(n) => (n === 0 ? t("chem.this_week") : t("chem.weeks", { n }))} onChange={(n) => setNow({ ...now, done_at_ms: instant() - n * 7 * DAY })} />
        <Stepper label={t("chem.level")} value={now.level_tenths ?? 0} step={5} max={120} show={(tenths) => (tenths ? level(tenths) : t("not.said"))} onChange={(tenths) => setNow({ ...now, level_tenths: tenths < 10 ? (now.level_tenths ? null : 50) : tenths })} />
        <Field label={t("field.note")} value={now.note} onChange={(note) => setNow({ ...now, note })} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!now.zone.trim()}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => setRemoving(true)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
