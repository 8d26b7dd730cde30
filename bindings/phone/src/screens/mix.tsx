// The calculator without a client. The core works it out; nothing is noted.
import { useState } from "preact/hooks";
import type { ProductKind } from "@tailcomb/web/types";
import { useLive } from "../live.ts";
import { weights } from "../time.ts";
import { Choice, NumberPad, Stepper, thousandths } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Show } from "../ui/frame.tsx";
import { number, OUNCE_MG, percent, t, volumes, weight } from "../words/index.ts";

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
      {pad}
      <Choice label={t("mix.amount")} value={of} options={[{ value: "total" as const, text: t("mix.of_total") }, { value: "product" as const, text: t("mix.of_product") }]} onChange={setOf} />
      <Stepper label={t("mix.ratio")} value={tenths} step={5} min={5} max={50} show={(n) => `1 : ${number(n / 10, n % 10 === 0 ? 0 : 1)}`} onChange={setTenths} />
      <Stepper label={t("mix.developer")} value={strength} step={5} min={5} max={40} show={(n) => volumes(n * 1000)} onChange={setStrength} />
      <Choice label={t("mix.product")} value={kind} options={(["shade", "lightener", "clear"] as const).map((value) => ({ value, text: t(`mix.product.${value}`) }))} onChange={setKind} />
      <Show live={live}>
        {(made) => (
          <div class="stack" aria-live="polite">
            <Rows>
              <Row title={<>{t("mix.line.product")}</>} end={<span class="figure">{weight(made.weighing.product_mg, weights.value)}</span>} />
              <Row title={t("mix.line.developer")} detail={volumes(strength * 1000)} end={<span class="figure">{weight(made.weighing.developer_mg, weights.value)}</span>} />
              <Row title={t("mix.total")} end={<span class="figure">{weight(made.weighing.total_mg, weights.value)}</span>} />
              <Row title={t("mix.on_head")} end={<span class="figure">{percent(made.on_head_pct_e4)}</span>} />
            </Rows>
            <Said lines={made.said} over={made.findings.some((one) => one.verdicts.some((each) => !each.within))} />
            <Cautions lines={made.cautions} />
          </div>
        )}
      </Show>
    </>
  );
}

function Blend() {
  const { mg, pad } = useAmount(weights.value === "ounces" ? "3" : "90");
  const [target, setTarget] = useState(15);
  const [strong, setStrong] = useState(20);
  const [weak, setWeak] = useState(10);
  const live = useLive(JSON.stringify([mg, target, strong, weak]), (station) => station.reckonBlend(mg, { mvol: target * 1000 }, [strong, weak].map((one) => ({ mvol: one * 1000 }))), []);
  const named = (n: number) => (n === 0 ? t("mix.water") : volumes(n * 1000));
  return (
    <>
      {pad}
      <Stepper label={t("mix.target")} value={target} step={5} min={5} max={40} show={named} onChange={setTarget} />
      <Stepper label={t("mix.from")} value={strong} step={5} min={5} max={40} show={named} onChange={setStrong} />
      <Stepper label={t("mix.with")} value={weak} step={5} min={5} max={35} show={named} onChange={setWeak} />
      <Show live={live}>
        {(made) => (
          <div class="stack" aria-live="polite">
            <Rows>
              {made.blend.parts.map((part, i) => <Row key={i} title={named(i === 0 ? strong : weak)} end={<span class="figure">{weight(part.amount_mg, weights.value)}</span>} />)}
              <Row title={t("mix.total")} detail={`${t("mix.reached")} ${percent(made.blend.reached_pct_e4)}`} end={<span class="figure">{weight(made.blend.total_mg, weights.value)}</span>} />
            </Rows>
            <Cautions lines={made.cautions} />
          </div>
        )}
      </Show>
    </>
  );
}

const Said = ({ lines, over }: { lines: string[]; over: boolean }) => (
  <Note kind={over ? "off" : "plain"} shape={over ? "warn" : "bowl"}>{lines.map((line) => <span key={line} lang="en">{line}</span>)}</Note>
);

/** What the core says beside a mix; English. */
export const Cautions = ({ lines }: { lines: string[] }) => (
  <section class="stack near" aria-label={t("mix.cautions")}>
    <ul class="stack near">{lines.map((line) => <li key={line} class="small" lang="en">{line}</li>)}</ul>
  </section>
);
