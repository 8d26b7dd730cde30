// The quick starts of this phone: what the floor starts by one tap.
import { useState } from "preact/hooks";
import { presetKinds, presetName, presets, type Preset } from "../floor/presets.ts";
import { Choice, Field, Stepper } from "../ui/form.tsx";
import { Row, Rows, Sheet } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { minutes, t } from "../words/index.ts";

const show = (n: number) => minutes(n * 60_000);

export function Presets() {
  const [open, setOpen] = useState<number | undefined>();
  const one = open === undefined ? undefined : presets.value[open];
  const change = (to: Partial<Preset>) => { presets.value = presets.value.map((old, i) => (i === open ? { ...old, ...to } : old)); };
  return (
    <section class="stack near" aria-labelledby="s-presets">
      <h2 id="s-presets">{t("settings.presets")}</h2>
      <p class="quiet">{t("settings.presets.lead")}</p>
      <Rows>
        {presets.value.map((each, i) => (
          <Row key={i} title={presetName(each)} detail={each.look_minutes === null ? undefined : t("floor.start.look", { n: each.look_minutes })} end={show(each.minutes)} onPress={() => setOpen(i)} />
        ))}
      </Rows>
      <Button wide onPress={() => { presets.value = [...presets.value, { kind: "plain", label: "", minutes: 10, look_minutes: null }]; setOpen(presets.value.length - 1); }}>{t("preset.new")}</Button>
      {one && (
        <Sheet title={presetName(one)} onClose={() => setOpen(undefined)}>
          <Stepper label={t("preset.minutes")} value={one.minutes} step={1} min={1} max={600} show={show} onChange={(value) => change({ minutes: value })} />
          <Stepper label={t("preset.look")} value={one.look_minutes ?? 0} step={1} min={0} max={one.minutes - 1} show={(n) => (n === 0 ? t("preset.look.none") : show(n))} onChange={(value) => change({ look_minutes: value || null })} />
          <Choice label={t("preset.kind")} value={one.kind} options={presetKinds.map((value) => ({ value, text: t(`kind.${value}`) }))} onChange={(kind) => change({ kind })} />
          <Field label={t("preset.label")} hint={t("preset.label.hint")} value={one.label} onChange={(label) => change({ label: label.slice(0, 40) })} />
          <div class="row-of">
            <Button look="main" onPress={() => setOpen(undefined)}>{t("do.done")}</Button>
            <Button look="grave" onPress={() => { presets.value = presets.value.filter((_, i) => i !== open); setOpen(undefined); }}>{t("preset.remove")}</Button>
          </div>
        </Sheet>
      )}
    </section>
  );
}
