// Glosses that the shelf could give, nearest first: proposed by the core from the plan and the warmth seen, noted only when picked.
import { useState } from "preact/hooks";
import type { Hue } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { weights } from "../time.ts";
import { percent, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions } from "../ui/ask.tsx";
import { Choice, Stepper } from "../ui/form.tsx";
import { Empty, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { Broken, costTold } from "../ui/weighed.tsx";
import { level, listed, zoneName } from "../work/said.ts";

const warm: readonly Hue[] = ["red", "red_orange", "orange", "yellow_orange", "yellow"];

export function ProposeGloss({ id }: { id: string }) {
  const live = useLive(`visit ${id}`, (station) => station.visit(id), [id]);
  return <Screen title={t("gloss.propose")} back={to("visit", id, "formulas")}><Show live={live}>{(view) => <Proposals id={id} zones={[...new Set(listed(view.targets).map((one) => one.value.zone))]} />}</Show></Screen>;
}

function Proposals({ id, zones }: { id: string; zones: readonly string[] }) {
  const [zone, setZone] = useState(zones.at(-1));
  const [seen, setSeen] = useState<Hue | "checks">("checks");
  const [tenths, setTenths] = useState(0);
  const live = useLive(`gloss ${id} ${seen} ${tenths} ${zone}`, (station) => station.proposeGloss(id, { seen: seen === "checks" ? null : seen, at_tenths: tenths || null, level_tenths: null, tone: null, zone: zone ?? null, amount_mg: null, ratio: null, developer_mvol: null }));
  const { busy, error, run } = useAct();
  return (
    <>
      <p class="quiet">{t("gloss.lead")}</p>
      {zones.length > 1 && <Choice label={t("gloss.for")} value={zone} onChange={setZone} options={zones.map((one) => ({ value: one, text: zoneName(one) }))} />}
      <Choice label={t("gloss.seen")} value={seen} onChange={setSeen} options={[{ value: "checks", text: t("gloss.by_checks") }, ...warm.map((one) => ({ value: one, text: t(`hue.${one as "red"}`) }))]} />
      <Stepper label={t("check.level")} value={tenths} step={5} max={120} show={(n) => (n ? level(n) : t("gloss.by_checks"))} onChange={(n) => setTenths(n >= 10 ? n : tenths ? 0 : 80)} />
      <Trouble error={error} />
      <Show live={live}>
        {({ seen_from, proposals, say, guidance, cautions }) => (
          <>
            <p class="small">{told(seen_from)}</p>
            {proposals.length === 0 && <Empty shape="bowl">{t("gloss.none")}</Empty>}
            {proposals.map((one, i) => (
              <article class="card" key={i}>
                <p><strong>{told(one.reason)}</strong></p>
                <table class="parts"><tbody>
                  {one.parts.map((part, n) => <tr key={n}><th scope="row">{part.name}{part.strength_mvol ? ` ${volumes(part.strength_mvol)}` : ""}</th><td>{weight(part.amount_mg, weights.value)}</td></tr>)}
                  <tr class="total"><th scope="row">{t("bowl.total")}</th><td>{weight(one.total_mg, weights.value)}</td></tr>
                </tbody></table>
                <p class="quiet small">{[t("formula.mean_level", { level: level(one.level_tenths) }), t("formula.pigment_left", { percent: percent(one.pigment_left_pct_e4) }), one.on_head_pct_e4 !== null && t("bowl.on_head", { percent: percent(one.on_head_pct_e4) }), costTold(one.costs)].filter(Boolean).join(" · ")}</p>
                <Broken of={one.findings} />
                <Button look="main" big wide busy={busy} onPress={() => void run((station) => station.noteFormula(id, one.formula, one.lines), () => go("visit", id, "formulas"))}>{t("gloss.take")}</Button>
              </article>
            ))}
            {say.map((one) => <p key={one.text} class="small quiet">{told(one)}</p>)}
            <p class="small quiet">{told(guidance)}</p>
            <Cautions of={cautions} />
          </>
        )}
      </Show>
    </>
  );
}
