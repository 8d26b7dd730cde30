// A bowl to mix: from which formula, how much, with which developer. The core says what goes on the scale. And a long
// application cut into small bowls that are used up while they work.
import { useState } from "preact/hooks";
import type { Assumed, BowlReady, BowlWish, FormulaView, ServicePlanned, ShelfView, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { weights } from "../time.ts";
import { minutes, number, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions, Fold } from "../ui/ask.tsx";
import { Choice, NumberPad, Stepper, thousandths } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";
import { developers, last } from "../work/said.ts";
import { Weighed } from "../ui/weighed.tsx";
import { Scale } from "./visit-scale.tsx";

const title = (one: FormulaView) => last(one.formula.said)?.title ?? "?";

export function MixBowl({ id }: { id: string }) {
  const live = useLive(`mix ${id}`, async (station) => ({ view: await station.visit(id), shelf: await station.shelf() }));
  const [ready, setReady] = useState<BowlReady | undefined>();
  if (ready) return <Screen title={ready.contents.label || t("scale.title")} back={to("visit", id, "bowls")}><Scale visit={id} bowl={ready} onDone={() => go("visit", id, "bowls")} /></Screen>;
  return (
    <Screen title={t("mix.new")} back={to("visit", id, "bowls")}>
      <Show live={live}>{({ view, shelf }) => (view.formulas.length === 0 ? <NoFormula id={id} /> : <Wish id={id} view={view} shelf={shelf} onReady={setReady} />)}</Show>
    </Screen>
  );
}

const NoFormula = ({ id }: { id: string }) => <><Empty shape="bowl">{t("formulas.none")}</Empty><ButtonLink look="main" big wide href={to("visit", id, "formulas")}>{t("bowls.formula_first")}</ButtonLink></>;

function Wish({ id, view, shelf, onReady }: { id: string; view: VisitView; shelf: ShelfView; onReady: (ready: BowlReady) => void }) {
  const [chosen, setChosen] = useState(view.formulas.at(-1)!.formula.id);
  const [amount, setAmount] = useState("");
  const [strength, setStrength] = useState<string>("own");
  const { busy, error, run } = useAct();
  const proposed = useLive(`amount ${id} ${chosen}`, (station) => station.proposeAmount(id, chosen), [id]);
  const formula = view.formulas.find((one) => one.formula.id === chosen);
  const own = formula && last(formula.formula.said)?.developer_mvol;
  const inGrams = formula?.lines.every((line) => { const share = last(line.said)?.share; return share && "mg" in share; }) ?? false;
  const wanted = thousandths(amount);
  const wish: BowlWish = { formula: chosen, amount: wanted ? { total_mg: wanted } : null, strength: strength === "own" ? null : Number(strength), label: "" };
  const weighed = useLive(`weighed ${id} ${JSON.stringify(wish)}`, (station) => (wanted || inGrams ? station.scaleFormula(id, wish) : Promise.resolve(null)));
  const plan = () => void run((station) => station.planBowl(id, wish), onReady);
  return (
    <>
      {view.formulas.length > 1 && <Choice label={t("mix.formula")} value={chosen} onChange={setChosen} options={view.formulas.map((one) => ({ value: one.formula.id, text: title(one) }))} />}
      {view.formulas.length === 1 && <p><strong>{title(view.formulas[0]!)}</strong></p>}
      {proposed.state === "here" && proposed.value && (
        <Note shape="bowl"><span>{told(proposed.value.why)}</span><div><Button onPress={() => setAmount(String((proposed.value?.amount_mg ?? 0) / 1000))}>{weight(proposed.value.amount_mg, weights.value)}</Button></div></Note>
      )}
      <NumberPad label={inGrams ? t("mix.amount_or_note") : t("bowl.amount")} value={amount} unit="g" decimals={1} onChange={setAmount} />
      <Choice label={t("bowl.developer")} value={strength} onChange={setStrength} options={[{ value: "own", text: own ? t("mix.as_noted", { strength: volumes(own) }) : t("mix.as_formula") }, ...developers(shelf.items).filter((one) => one !== own).map((one) => ({ value: String(one), text: volumes(one) }))]} />
      {weighed.state === "here" && weighed.value && <Weighed of={weighed.value} />}
      {weighed.state === "refused" && (wanted || inGrams) && <Trouble error={weighed.error} />}
      <Trouble error={error} />
      <Button look="main" wide class="glove-high" busy={busy} disabled={!inGrams && !wanted} onPress={plan}>{t("mix.plan")}</Button>
    </>
  );
}

export function SmallBowls({ id }: { id: string }) {
  const live = useLive(`small ${id}`, async (station) => ({ view: await station.visit(id), shelf: await station.shelf(), map: await station.sectionMap(id), assumed: await station.assumed() }));
  const [done, setDone] = useState<ServicePlanned | undefined>();
  return (
    <Screen title={t("small.title")} back={to("visit", id, "bowls")}>
      {done ? <Planned id={id} of={done} /> : <Show live={live}>{({ view, shelf, map, assumed }) => (view.formulas.length === 0 ? <NoFormula id={id} /> : <Service id={id} view={view} shelf={shelf} assumed={assumed} sections={map.sections.filter((one) => one.state === "planned").length} onPlanned={setDone} />)}</Show>}
    </Screen>
  );
}

function Service({ id, view, shelf, assumed, sections: mapped, onPlanned }: { id: string; view: VisitView; shelf: ShelfView; assumed: Assumed; sections: number; onPlanned: (planned: ServicePlanned) => void }) {
  const [formula, setFormula] = useState(view.formulas.at(-1)!.formula.id);
  const [sections, setSections] = useState(mapped || 8);
  const [grams, setGrams] = useState(assumed.pace.grams_per_section_mg);
  const [pace, setPace] = useState(assumed.pace.time_per_section_ms);
  const [biggest, setBiggest] = useState(assumed.bowls.biggest_bowl_mg);
  const [clinging, setClinging] = useState(assumed.bowls.clinging_mg);
  const [first, setFirst] = useState("own");
  const [end, setEnd] = useState("own");
  const { busy, error, run } = useAct();
  const strengths = developers(shelf.items);
  const choices = [{ value: "own", text: t("mix.as_formula") }, ...strengths.map((one) => ({ value: String(one), text: volumes(one) }))];
  const strength = (of: string) => (of === "own" ? null : { mvol: Number(of) });
  const g = (mg: number) => weight(mg, weights.value);
  return (
    <>
      <p class="quiet">{t("small.lead")}</p>
      {view.formulas.length > 1 && <Choice label={t("mix.formula")} value={formula} onChange={setFormula} options={view.formulas.map((one) => ({ value: one.formula.id, text: title(one) }))} />}
      <Stepper label={t("small.sections")} value={sections} step={1} min={1} max={200} show={(n) => number(n)} onChange={setSections} />
      <Stepper label={t("small.grams")} value={grams} step={500} min={500} show={g} onChange={setGrams} />
      <Stepper label={t("small.pace")} value={pace} step={30_000} min={30_000} show={(ms) => `${number(ms / 60_000, ms % 60_000 ? 1 : 0)} min`} onChange={setPace} />
      <Stepper label={t("small.biggest")} value={biggest} step={5_000} min={5_000} show={g} onChange={setBiggest} />
      <Fold title={t("small.more")}>
        <Stepper label={t("small.clinging")} value={clinging} step={500} show={g} onChange={setClinging} />
        <Choice label={t("small.first")} value={first} onChange={setFirst} options={choices} />
        <Choice label={t("small.last")} value={end} onChange={setEnd} options={choices} />
        <Note shape="warn">{t("small.step_up")}</Note>
      </Fold>
      <Trouble error={error} />
      <Button look="main" wide big busy={busy} onPress={() => void run((station) => station.planService(id, {
        formula, sections, pace: { grams_per_section_mg: grams, time_per_section_ms: pace }, biggest_bowl: biggest, clinging, first: strength(first), last: strength(end), cap: null,
      }), onPlanned)}>{t("small.plan")}</Button>
    </>
  );
}

function Planned({ id, of }: { id: string; of: ServicePlanned }) {
  const cautions = [...new Set(of.bowls.flatMap((bowl) => bowl.cautions))];
  return (
    <>
      <p>{t("small.result", { n: of.bowls.length, mixed: weight(of.cut.mixed_mg, weights.value), left: weight(of.cut.left_over_mg, weights.value), time: minutes(of.cut.painting_ms) })}</p>
      <Rows>
        {of.cut.bowls.map((slot, i) => {
          const bowl = of.bowls[i];
          return <Row key={slot.number} shape="bowl" title={`${slot.number} · ${weight(slot.amount_mg, weights.value)}${bowl?.contents.strength_mvol ? ` · ${volumes(bowl.contents.strength_mvol)}` : ""}`}
            detail={t("small.slot", { first: slot.first_section, last: slot.last_section, time: minutes(slot.painting_ms), at: minutes(slot.mix_at_ms) })} />;
        })}
      </Rows>
      <Cautions of={cautions} />
      <ButtonLink look="main" big wide href={to("visit", id, "bowls")}>{t("bowls.title")}</ButtonLink>
    </>
  );
}
