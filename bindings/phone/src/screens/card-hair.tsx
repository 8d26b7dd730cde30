// Consultation: what the hair is like, by steppers and choices. Saved as one action, so that it reads as one statement.
import { useState } from "preact/hooks";
import type { ClientField, ClientView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { lengths } from "../time.ts";
import { number, t } from "../words/index.ts";
import { Choice, Field, Form, Stepper } from "../ui/form.tsx";
import { Fold, Pick } from "../ui/ask.tsx";
import { Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { LevelRow } from "../ui/tone.tsx";
import { field, fieldNumber, length, level, zones } from "../work/said.ts";
import { usual } from "./card.tsx";

export function CardHair({ id }: { id: string }) {
  const live = useLive(`card ${id}`, (station) => station.client(id), [id]);
  return <Screen title={t("hair.title")} back={to("client", id)}><Show live={live}>{(card) => <Consult id={id} card={card} />}</Show></Screen>;
}

const choices = { texture: ["fine", "medium", "coarse"], density: ["thin", "medium", "thick"] } as const;
const degrees = ["low", "medium", "high"] as const;
const usualScalp = ["calm", "dry", "oily", "sensitive", "flaky"] as const;

function Consult({ id, card }: { id: string; card: ClientView }) {
  const [said, setSaid] = useState<Partial<Record<ClientField, string>>>({});
  const { busy, error, run } = useAct();
  const text = (name: ClientField) => said[name] ?? field(card, name);
  const set = (name: ClientField) => (value: string) => setSaid((before) => ({ ...before, [name]: value }));
  const amount = (name: ClientField, otherwise: number) => { const own = text(name); return own === "" ? otherwise : Number(own); };
  const step = lengths.value === "inches" ? 25.4 : 10;
  const changed = (Object.entries(said) as [ClientField, string][]).filter(([name, value]) => value !== field(card, name));
  const natural = fieldNumber(card, "natural_level_tenths");
  const shownLevel = text("natural_level_tenths");
  return (
    <Form onSubmit={() => void run((station) => station.setClient(id, changed), () => go("client", id))}>
      <Stepper label={t("field.natural_level")} value={amount("natural_level_tenths", 50)} step={5} min={10} max={120}
        show={(tenths) => (shownLevel === "" ? t("not.said") : level(tenths))} onChange={(tenths) => set("natural_level_tenths")(String(shownLevel === "" ? natural ?? 50 : tenths))} />
      {shownLevel !== "" && <LevelRow tenths={Number(shownLevel)} />}
      <Stepper label={t("field.white")} value={amount("white_pct", 0)} step={5} max={100} show={(pct) => (text("white_pct") === "" ? t("not.said") : `${number(pct)} %`)} onChange={(pct) => set("white_pct")(String(pct))} />
      {(["texture", "density"] as const).map((name) => (
        <Choice key={name} label={t(`field.${name}`)} value={text(name)} onChange={set(name)} options={choices[name].map((one) => ({ value: one, text: t(`hair.${one}`) }))} />
      ))}
      <Choice label={t("field.porosity")} value={text("porosity")} onChange={set("porosity")} options={degrees.map((one) => ({ value: one, text: usual("porosity", one) }))} />
      <Fold title={t("hair.by_zone")}>
        {zones.map((one) => { const name = `porosity_${one.key === "zone.scalp" ? "near_scalp" : one.key === "zone.lengths" ? "mid_lengths" : "ends"}` as const; return <Choice key={name} label={t("field.porosity_zone", { zone: t(one.key) })} value={text(name)} onChange={set(name)} options={degrees.map((value) => ({ value, text: usual("porosity", value) }))} />; })}
      </Fold>
      <Choice label={t("field.curl")} value={text("curl")} onChange={set("curl")} options={(["straight", "wavy", "curly", "coily"] as const).map((one) => ({ value: one, text: t(`hair.${one}`) }))} />
      <Stepper label={t("field.length")} value={amount("length_mm", 0)} step={step} show={(mm) => (text("length_mm") === "" ? t("not.said") : length(mm * 1000, lengths.value))} onChange={(mm) => set("length_mm")(String(Math.round(mm)))} />
      <Pick label={t("field.scalp")} value={text("scalp")} onChange={set("scalp")} options={usualScalp.map((one) => ({ value: t(`scalp.${one}`), text: t(`scalp.${one}`) }))} />
      <Field label={t("field.skin")} value={text("skin")} onChange={set("skin")} />
      <Field label={t("field.medication")} value={text("medication")} onChange={set("medication")} />
      <Field label={t("field.notes")} value={text("notes")} onChange={set("notes")} lines={3} />
      <Trouble error={error} />
      <Button look="main" big wide submit busy={busy} disabled={changed.length === 0}>{t("do.save")}</Button>
    </Form>
  );
}
