// A formula at an amount, as it would go on the scale: worked out by the core, recorded nowhere yet.
import type { Findings, FormulaWeighed } from "@tailcomb/web/types";
import { weights } from "../time.ts";
import { percent, t, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { money } from "../work/said.ts";
import { Cautions } from "./ask.tsx";
import { Note } from "./frame.tsx";

/** What a figure breaks of the rules of the place, each with where it stands written. */
export const Broken = ({ of }: { of: readonly Findings[] }) => (
  <>
    {of.flatMap((one) => one.verdicts.filter((verdict) => !verdict.within).map((verdict) => (
      <Note key={`${one.place} ${one.what} ${verdict.limit.citation.rule.text}`} kind="off"><strong>{t("formula.over_rule", { percent: percent(one.found_pct_e4), most: percent(verdict.limit.max_pct_e4), rule: told(verdict.limit.citation.rule) })}</strong>{verdict.limit.conditions.text && <span>{told(verdict.limit.conditions)}</span>}</Note>
    )))}
  </>
);

export const costTold = (of: FormulaWeighed["costs"]) =>
  [of.cost.length > 0 && t("formula.costs", { cost: of.cost.map((one) => money(one.minor, one.currency)).join(" + ") }), of.unpriced.length > 0 && t("formula.unpriced", { names: of.unpriced.join(", ") })].filter(Boolean).join(" · ");

export function Weighed({ of }: { of: FormulaWeighed }) {
  return (
    <section class="card" aria-live="polite">
      <table class="parts"><tbody>
        {of.contents.parts.map((part, i) => <tr key={i}><th scope="row">{part.name}</th><td>{weight(part.amount_mg, weights.value)}</td></tr>)}
        <tr class="total"><th scope="row">{t("bowl.total")}</th><td>{weight(of.total_mg, weights.value)}</td></tr>
      </tbody></table>
      <p class="quiet small">{[of.on_head_pct_e4 !== null && t("bowl.on_head", { percent: percent(of.on_head_pct_e4) }), costTold(of.costs)].filter(Boolean).join(" · ")}</p>
      <Broken of={of.findings} />
      <Cautions of={of.cautions} />
    </section>
  );
}
