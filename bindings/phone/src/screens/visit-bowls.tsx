// Bowls: planned from a formula by the core, put on the scale, mixed, used up or thrown away.
import { useState } from "preact/hooks";
import type { BowlReady, BowlView, BriefBowl } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { now, weights, zone } from "../time.ts";
import { clockTime, countdown, minutes, percent, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions } from "../ui/ask.tsx";
import { NumberPad, thousandths } from "../ui/form.tsx";
import { Empty, Note, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink, HoldButton } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { Work } from "../ui/work.tsx";
import { last } from "../work/said.ts";
import { Scale } from "./visit-scale.tsx";

export function Bowls({ id }: { id: string }) {
  const live = useLive(`bowls ${id}`, async (station) => ({ view: await station.visit(id), brief: (await station.brief(id)).brief, use: await station.bowlUse(id) }));
  const [scale, setScale] = useState<BowlReady | BowlView | undefined>();
  return (
    <Screen title={t("bowls.title")} back={to("visit", id)}>
      <Show live={live}>
        {({ view, brief, use }) => (
          <Work view={view}>
            {view.bowls.length === 0 && <Empty shape="bowl">{t("bowls.none")}</Empty>}
            {[...view.bowls].reverse().map((bowl) => (
              <Bowl key={bowl.id} visit={id} bowl={bowl} brief={brief.bowls.find((one) => one.bowl === bowl.id)} onScale={() => setScale(bowl)} used={use.bowls.find((one) => one.bowl === bowl.id)?.used_mg ?? null} />
            ))}
            {view.formulas.length === 0 ? <ButtonLink look="main" big wide href={to("visit", id, "formulas")}>{t("bowls.formula_first")}</ButtonLink> : (
              <><ButtonLink look="main" big wide href={to("visit", id, "mix")}>{t("mix.new")}</ButtonLink><ButtonLink wide href={to("visit", id, "small-bowls")}>{t("small.title")}</ButtonLink></>
            )}
            <Cautions of={brief.cautions} />
          </Work>
        )}
      </Show>
      {scale && <Sheet title={t("scale.title")} onClose={() => setScale(undefined)}><Scale visit={id} bowl={scale} onDone={() => setScale(undefined)} /></Sheet>}
    </Screen>
  );
}

function Bowl({ visit, bowl, brief, used, onScale }: { visit: string; bowl: BowlView; brief: BriefBowl | undefined; used: number | null; onScale: () => void }) {
  const { error, run } = useAct();
  const [leftover, setLeftover] = useState<string | undefined>();
  const contents = last(bowl.mixed) ?? last(bowl.planned);
  const life = contents?.working_life_ms && bowl.mixed_at ? bowl.mixed_at.ms + contents.working_life_ms - now.value : undefined;
  const total = contents?.parts.reduce((sum, part) => sum + part.amount_mg, 0) ?? 0;
  return (
    <article class={bowl.state === "in_use" ? "card" : "card done"}>
      <div class="part-head"><h2>{told(bowl.label)}</h2><span class="row-of"><Shape of="bowl" />{t(`bowl.${bowl.state}`)}</span></div>
      {bowl.state === "in_use" && life !== undefined && (
        <p class={life <= 0 ? "figure grave-text" : "figure"}>{life > 0 ? t("bowl.works", { time: countdown(life) }) : t("bowl.dead", { time: minutes(-life) })}</p>
      )}
      <p class="quiet small">{[brief?.formula, bowl.mixed_at && t("bowl.mixed_at", { time: clockTime(bowl.mixed_at.ms, zone.value) }), contents?.strength_mvol && volumes(contents.strength_mvol), bowl.on_head_pct_e4 !== null && t("bowl.on_head", { percent: percent(bowl.on_head_pct_e4) })].filter(Boolean).join(" · ")}</p>
      <table class="parts"><tbody>
        {contents?.parts.map((part, i) => <tr key={i}><th scope="row">{part.name}</th><td>{weight(part.amount_mg, weights.value)}</td></tr>)}
        <tr class="total"><th scope="row">{t("bowl.total")}</th><td>{weight(total, weights.value)}</td></tr>
        {used !== null && <tr><th scope="row">{t("bowl.used")}</th><td>{weight(used, weights.value)}</td></tr>}
      </tbody></table>
      {(bowl.planned.versions.length > 1 || bowl.mixed.versions.length > 1 || bowl.end.versions.length > 1) && <Note kind="look" shape="asks">{t("asks.differ")} <a href={to("settle", visit)}>{t("settle.title")}</a></Note>}
      <Trouble error={error} />
      {bowl.state === "planned" && <Button look="main" wide class="glove-high" onPress={onScale}>{t("scale.go")}</Button>}
      {bowl.state === "in_use" && (
        <div class="stack near">
          <ButtonLink wide look="main" href={to("visit", visit, "paint")}>{t("paint.title")}</ButtonLink>
          <div class="row-of">
            <HoldButton name={t("bowl.use_up")} onHeld={() => void run((station) => station.useUpBowl(visit, bowl.id))}>{t("bowl.use_up")}</HoldButton>
            <Button onPress={() => setLeftover("")}>{t("bowl.discard")}</Button>
            <Button look="quiet" onPress={onScale}>{t("scale.correct")}</Button>
          </div>
        </div>
      )}
      {(bowl.state === "used_up" || bowl.state === "discarded") && <div><Button look="quiet" onPress={() => void run((station) => station.keepBowl(visit, bowl.id))}>{t("bowl.keep")}</Button></div>}
      {leftover !== undefined && (
        <Sheet title={t("bowl.leftover")} onClose={() => setLeftover(undefined)}>
          <NumberPad label={t("bowl.leftover")} value={leftover} unit="g" decimals={1} onChange={setLeftover} />
          <Trouble error={error} />
          <Button look="main" wide class="glove-high" disabled={thousandths(leftover) === undefined} onPress={() => void run((station) => station.discardBowl(visit, bowl.id, thousandths(leftover) ?? 0), () => setLeftover(undefined))}>{t("bowl.discard")}</Button>
        </Sheet>
      )}
    </article>
  );
}
