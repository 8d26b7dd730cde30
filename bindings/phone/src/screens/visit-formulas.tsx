// Formula notes: products from the shelf with their shares, ratio, developer, the label's times.
import { useState } from "preact/hooks";
import type { FormulaView, Line, VisitView, Told } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, weights, zone } from "../time.ts";
import { clockTime, dayAndYear, minutes, number, percent, ratio, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions, Part, Reason } from "../ui/ask.tsx";
import { Stepper } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";
import { Remarks } from "../ui/remarks.tsx";
import { Broken, costTold } from "../ui/weighed.tsx";
import { Work } from "../ui/work.tsx";
import { contested, last, level, listed } from "../work/said.ts";

export const shareTold = (share: Line["share"]) => ("mg" in share ? weight(share.mg, weights.value) : t("share.parts", { n: share.milliparts / 1000 }));

export function Formulas({ id }: { id: string }) {
  const live = useLive(`visit ${id}`, (station) => station.visit(id), [id]);
  const [repeating, setRepeating] = useState(false);
  const [cautions, setCautions] = useState<Told[]>([]);
  return (
    <Screen title={t("formulas.title")} back={to("visit", id)}>
      <Show live={live}>
        {(view) => (
          <Work view={view}>
            {view.formulas.length === 0 && <Empty shape="bowl">{t("formulas.none")}</Empty>}
            {view.formulas.map((one) => <FormulaCard key={one.formula.id} visit={id} view={view} of={one} />)}
            <ButtonLink look="main" big wide href={to("visit", id, "formula")}>{t("formula.new")}</ButtonLink>
            <ButtonLink wide href={to("visit", id, "gloss")}>{t("gloss.propose")}</ButtonLink>
            {view.opening && <Button wide onPress={() => setRepeating(true)}>{t("formula.repeat")}</Button>}
            {repeating && view.opening && <Repeat visit={id} client={view.opening.client} onDone={(said) => { setCautions(said); setRepeating(false); }} onClose={() => setRepeating(false)} />}
          </Work>
        )}
      </Show>
      <Cautions of={cautions} />
    </Screen>
  );
}

function FormulaCard({ visit, view, of }: { visit: string; view: VisitView; of: FormulaView }) {
  const { error, run } = useAct();
  const [line, setLine] = useState<{ id: string; value: Line } | undefined>();
  const [removing, setRemoving] = useState(false);
  const formula = last(of.formula.said), version = of.formula.said.versions.at(-1);
  if (!formula) return <Note kind="look">{t("newer")}</Note>;
  const lines = listed(of.lines).sort((a, b) => a.value.order - b.value.order);
  return (
    <article class="card">
      <div class="part-head"><h2>{formula.title}</h2>{version && <span class="quiet small">{personName(version.by)} {clockTime(version.at.ms, zone.value)}</span>}</div>
      {contested(of.formula) && <Note kind="look" shape="asks"><a href={to("settle", visit)}>{t("asks.differ")}</a></Note>}
      <p class="facts">{[formula.ratio && ratio(formula.ratio), formula.developer_mvol && volumes(formula.developer_mvol), formula.longest_ms && t("formula.longest_is", { time: minutes(formula.longest_ms) }), formula.working_life_ms && t("formula.life_is", { time: minutes(formula.working_life_ms) })].filter(Boolean).join(" · ")}</p>
      <Rows>
        {lines.map((one) => (
          <Row key={one.id} title={`${one.value.name}${one.asks ? " ?" : ""}`} detail={[t(`role_of.${one.value.role}`), one.value.strength_mvol && volumes(one.value.strength_mvol)].filter(Boolean).join(" · ")}
            end={<span class="figure">{shareTold(one.value.share)}</span>} onPress={() => setLine({ id: one.id, value: one.value })} />
        ))}
      </Rows>
      <Figures visit={visit} formula={of.formula.id} />
      {formula.note && <p>{formula.note}</p>}
      <Remarks visit={visit} view={view} on="formula" entry={of.formula.id} />
      <Trouble error={error} />
      <div class="row-of">
        <ButtonLink href={to("visit", visit, "formula", of.formula.id)}>{t("formula.change")}</ButtonLink>
        <ButtonLink look="main" href={to("visit", visit, "mix")}>{t("mix.new")}</ButtonLink>
        <Button look="quiet" onPress={() => setRemoving(true)}>{t("do.remove")}</Button>
      </div>
      {removing && <Reason title={t("do.remove")} go={t("do.remove")} needed={false} error={error} onClose={() => setRemoving(false)} onGo={(why) => void run((station) => station.removeFormula(visit, of.formula.id, why), () => setRemoving(false))} />}
      {line && <LineSheet visit={visit} {...line} onClose={() => setLine(undefined)} />}
    </article>
  );
}

/** What the formula comes to by the core: total, peroxide on the head, cost, level, what the wheel says. */
function Figures({ visit, formula }: { visit: string; formula: string }) {
  const live = useLive(`figures ${visit} ${formula}`, (station) => station.formulaFigures(visit, formula));
  if (live.state !== "here") return live.state === "refused" ? <Trouble error={live.error} /> : null;
  const { weighed, level_tenths, pigment_left_pct_e4, on_head_pct_e4, guidance, findings, not_known } = live.value;
  return (
    <div class="stack near small">
      {weighed && <p class="figure">{t("bowl.total")} {weight(weighed.total_mg, weights.value)}</p>}
      <p class="quiet">{[on_head_pct_e4 !== null && t("bowl.on_head", { percent: percent(on_head_pct_e4) }), level_tenths !== null && t("formula.mean_level", { level: level(level_tenths) }), pigment_left_pct_e4 !== null && pigment_left_pct_e4 < 1_000_000 && t("formula.pigment_left", { percent: percent(pigment_left_pct_e4) }), weighed && costTold(weighed.costs)].filter(Boolean).join(" · ")}</p>
      {guidance.text && <p>{told(guidance)}</p>}
      {not_known.length > 0 && <p class="quiet">{not_known.map(told).join(" · ")}</p>}
      <Broken of={findings} />
    </div>
  );
}

/** How much of a product: grams by 0.5, or parts by a quarter. */
export function ShareStepper({ label, share, onChange }: { label: string; share: Line["share"]; onChange: (share: Line["share"]) => void }) {
  return "mg" in share
    ? <Stepper label={label} value={share.mg} step={500} max={2_000_000} show={(mg) => weight(mg, weights.value)} onChange={(mg) => onChange({ mg })} />
    : <Stepper label={label} value={share.milliparts} step={250} max={100_000} show={(n) => t("share.parts", { n: n / 1000 })} onChange={(milliparts) => onChange({ milliparts })} />;
}

function LineSheet({ visit, id, value, onClose }: { visit: string; id: string; value: Line; onClose: () => void }) {
  const [share, setShare] = useState(value.share);
  const { busy, error, run } = useAct();
  return (
    <Sheet title={value.name} onClose={onClose}>
      <ShareStepper label={t("line.share")} share={share} onChange={setShare} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} onPress={() => void run((station) => station.changeLine(visit, id, { ...value, share }), onClose)}>{t("do.save")}</Button>
      <Button look="grave" wide busy={busy} onPress={() => void run((station) => station.removeLine(visit, id, ""), onClose)}>{t("line.remove")}</Button>
    </Sheet>
  );
}

/** The same client, months later: a formula of an earlier visit, word for word. */
function Repeat({ visit, client, onDone, onClose }: { visit: string; client: string; onDone: (cautions: Told[]) => void; onClose: () => void }) {
  const past = useLive(`past ${client}`, async (station) => {
    const visits = (await station.visitsOf(client)).filter((one) => one.visit !== visit).slice(0, 8);
    return Promise.all(visits.map(async (one) => ({ ...one, formulas: (await station.visit(one.visit)).formulas })));
  });
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("formula.repeat")} onClose={onClose}>
      <Trouble error={error} />
      <Show live={past}>
        {(visits) => {
          const some = visits.filter((one) => one.formulas.length > 0);
          if (some.length === 0) return <Empty>{t("formula.no_past")}</Empty>;
          return <>{some.map((one) => (
            <Part key={one.visit} title={`${dayAndYear(one.at_ms, zone.value)} · ${one.service}`}>
              <Rows>{one.formulas.map((each) => { const formula = last(each.formula.said); return <Row key={each.formula.id} title={formula?.title ?? "?"} detail={listed(each.lines).map((line) => `${line.value.name} ${shareTold(line.value.share)}`).concat(formula?.ratio ? [ratio(formula.ratio)] : [], formula?.developer_mvol ? [volumes(formula.developer_mvol)] : []).join(" · ")}
                {...(busy ? {} : { onPress: () => void run((station) => station.repeatFormula(visit, one.visit, each.formula.id), (noted) => onDone(noted.cautions)) })} />; })}</Rows>
            </Part>
          ))}</>;
        }}
      </Show>
      <p class="quiet small">{t("formula.repeat.lead", { n: number(8) })}</p>
    </Sheet>
  );
}
