// The calculator without a client. The core works it out; nothing is noted.
import { useState } from "preact/hooks";
import type { ProductKind, Told } from "@tailcomb/web/types";
import { useLive } from "../live.ts";
import { weights } from "../time.ts";
import { Choice, NumberPad, Stepper, thousandths } from "../ui/form.tsx";
import { Note, Screen, Show } from "../ui/frame.tsx";
import { number, OUNCE_MG, percent, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";

type Way = "mix" | "blend";

export function Mix() {
  const [way, setWay] = useState<Way>("mix");
  return (
    <Screen title={t("mix.title")}>
      <Choice label={t("mix.way")} value={way} options={(["mix", "blend"] as const).map((value) => ({ value, text: t(`mix.way.${value}`) }))} onChange={setWay} />
      {way === "mix" ? <OneMix /> : <Blend />}
    </Screen>
  );
}

/** An amount in the salon's unit, as milligrams. */
function useAmount(first: string) {
  const [typed, setTyped] = useState(first);
  const ounces = weights.value === "ounces";
  const parsed = thousandths(typed) ?? 0;
  const mg = ounces ? Math.round((parsed * OUNCE_MG) / 1000) : parsed;
  const pad = <NumberPad label={t("mix.amount")} value={typed} unit={ounces ? "oz" : "g"} decimals={ounces ? 2 : 1} most={5} onChange={setTyped} />;
  return { mg, pad };
}

function OneMix() {
  const { mg, pad } = useAmount(weights.value === "ounces" ? "3" : "90");
  const [of, setOf] = useState<"total" | "product">("total");
  const [tenths, setTenths] = useState(15);
  const [strength, setStrength] = useState(20);
  const [kind, setKind] = useState<ProductKind & ("shade" | "lightener" | "clear")>("shade");
  const ratio = `1:${tenths / 10}`;
  const live = useLive(JSON.stringify([mg, of, tenths, strength, kind]), (station) => station.reckonMix({
    products: [{ name: "product", kind, share: { milliparts: 1000 }, takes_developer: true }],
    ratio, developer: { mvol: strength * 1000 }, amount: of === "total" ? { total_mg: mg } : { product_mg: mg },
  }), []);
  return (
    <>
      <Show live={live}>
        {(made) => (
          <div class="worked-out" aria-live="polite">
            <Figure name={t("mix.line.product")} value={weight(made.weighing.product_mg, weights.value)} />
            <Figure name={`${t("mix.line.developer")} ${volumes(strength * 1000)}`} value={weight(made.weighing.developer_mg, weights.value)} />
            <Figure name={t("mix.total")} value={weight(made.weighing.total_mg, weights.value)} />
            <Figure name={t("mix.on_head")} value={percent(made.on_head_pct_e4)} />
          </div>
        )}
      </Show>
      {pad}
      <Choice label={t("mix.of")} value={of} options={[{ value: "total" as const, text: t("mix.of_total") }, { value: "product" as const, text: t("mix.of_product") }]} onChange={setOf} />
      <Stepper label={t("mix.ratio")} value={tenths} step={5} min={5} max={50} show={(n) => `1 : ${number(n / 10, n % 10 === 0 ? 0 : 1)}`} onChange={setTenths} />
      <Stepper label={t("mix.developer")} value={strength} step={5} min={5} max={40} show={(n) => volumes(n * 1000)} onChange={setStrength} />
      <Choice label={t("mix.product")} value={kind} options={(["shade", "lightener", "clear"] as const).map((value) => ({ value, text: t(`mix.product.${value}`) }))} onChange={setKind} />
      {live.state === "here" && (
        <>
          <Said lines={live.value.said} over={live.value.findings.some((one) => one.verdicts.some((each) => !each.within))} />
          <Cautions lines={live.value.cautions} />
        </>
      )}
    </>
  );
}

function Blend() {
  const { mg, pad } = useAmount(weights.value === "ounces" ? "3" : "90");
  const [target, setTarget] = useState(15);
  const [strong, setStrong] = useState(20);
  const [weak, setWeak] = useState(10);
  const live = useLive(JSON.stringify([mg, target, strong, weak]), (station) => station.reckonBlend(mg, { mvol: target * 1000 }, [strong, weak].map((one) => ({ mvol: one * 1000 }))), []);
  const named = (n: number) => volumes(n * 1000);
  return (
    <>
      <Show live={live}>
        {(made) => (
          <div class="worked-out" aria-live="polite">
            {made.blend.parts.map((part, i) => <Figure key={i} name={named(i === 0 ? strong : weak)} value={weight(part.amount_mg, weights.value)} />)}
            <Figure name={t("mix.total")} value={weight(made.blend.total_mg, weights.value)} />
            <Figure name={t("mix.reached")} value={percent(made.blend.reached_pct_e4)} />
          </div>
        )}
      </Show>
      {pad}
      <Stepper label={t("mix.target")} value={target} step={5} min={5} max={40} show={named} onChange={setTarget} />
      <Stepper label={t("mix.from")} value={strong} step={5} min={5} max={40} show={named} onChange={setStrong} />
      <Stepper label={t("mix.with")} value={weak} step={5} min={5} max={35} show={named} onChange={setWeak} />
      {live.state === "here" && <Cautions lines={live.value.cautions} />}
    </>
  );
}

const Figure = ({ name, value }: { name: string; value: string }) => <div><span class="quiet small">{name}</span><span class="figure">{value}</span></div>;

const Said = ({ lines, over }: { lines: Told[]; over: boolean }) => (
  <Note kind={over ? "off" : "plain"} shape={over ? "warn" : "bowl"}>{lines.map((line) => <span key={line.text}>{told(line)}</span>)}</Note>
);

/** What the core says beside a mix. */
export const Cautions = ({ lines }: { lines: Told[] }) => (
  <section class="stack near" aria-label={t("mix.cautions")}>
    <ul class="stack near">{lines.map((line) => <li key={line.text} class="small">{told(line)}</li>)}</ul>
  </section>
);
