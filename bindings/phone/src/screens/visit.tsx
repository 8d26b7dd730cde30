// A visit at a glance: what stands against colour, what is on the head and how long, what comes next; then the work with
// gloves on, and everything else by its own screen.
import type { Briefing, Reminder, SectionMap, VisitView } from "@tailcomb/web/types";
import { useState } from "preact/hooks";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { now, personName, person, weights, zone } from "../time.ts";
import { clockTime, countdown, minutes, t, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions, Fold, Part, Reason } from "../ui/ask.tsx";
import { ExposureChart } from "../ui/exposure.tsx";
import { Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { HeadMap, SectionList, unpictured } from "../ui/head-map.tsx";
import { Button, ButtonLink, HoldButton } from "../ui/press.tsx";
import { Shape, type ShapeName } from "../ui/shape.tsx";
import { StopNote } from "../ui/stop.tsx";
import { isClosed } from "../ui/work.tsx";

const all = async (station: import("@tailcomb/web").Station, id: string) => ({ view: await station.visit(id), briefing: await station.brief(id), map: await station.sectionMap(id) });

export function Visit({ id }: { id: string }) {
  const live = useLive(`visit-hub ${id}`, (station) => all(station, id));
  return <Show live={live} within={{ title: t("visit.title") }}>{(shown) => <Hub id={id} {...shown} />}</Show>;
}

function Hub({ id, view, briefing, map }: { id: string; view: VisitView; briefing: Briefing; map: SectionMap }) {
  const { busy, error, run } = useAct();
  const [reopening, setReopening] = useState(false);
  const { brief, stop } = briefing;
  const own = (name: string) => to("visit", id, name);
  const closed = isClosed(view), unseen = unpictured(map);
  const mine = brief.holders.now.some((one) => one.person === person.value?.id);
  const holders = brief.holders.now.map((one) => personName(one.person)).join(", ");
  return (
    <Screen title={briefing.client_name ?? t("visit.title")} back={view.opening ? to("client", view.opening.client) : to()}>
      <p class="quiet">{[brief.service, holders ? t("visit.held", { who: holders }) : t("visit.held.nobody"), closed && t("visit.closed")].filter(Boolean).join(" · ")}</p>
      {stop.stands && !closed && <StopNote visit={id} stop={stop} />}
      {!mine && !closed && <Button look="main" big wide busy={busy} onPress={() => void run((station) => station.take(id), () => { location.hash = own("brief"); })}>{t("visit.take")}</Button>}
      {brief.questions.length > 0 && <Rows><Row shape="asks" title={t("settle.here", { n: brief.questions.length })} href={to("settle", id)} /></Rows>}
      {brief.next.length > 0 && <NextUp of={brief.next} map={map} />}
      {!closed && map.sections.length > 0 && <Finish id={id} />}
      {brief.on_hair.length > 0 && <Part title={t("exposure.title")} beside={<ButtonLink href={own("rinse")}>{t("rinse.go")}</ButtonLink>}><ExposureChart of={brief.on_hair} /></Part>}
      {!closed && (
        <nav class="gloves" aria-label={t("visit.gloves")}>
          <Glove href={own("paint")} shape="comb">{t("paint.title")}</Glove>
          <Glove href={own("bowls")} shape="bowl">{t("bowls.title")}</Glove>
          <Glove href={own("check")} shape="look">{t("check.title")}</Glove>
          <Glove href={own("rinse")} shape="down">{t("rinse.title")}</Glove>
        </nav>
      )}
      {map.sections.length > 0 && <Part title={t("map.title")}><HeadMap map={map} />{unseen.length > 0 && <SectionList of={unseen} />}</Part>}
      <Rows label={t("visit.parts")}>
        <Row title={t("brief.title")} detail={t("brief.detail")} href={own("brief")} />
        <Row title={t("plan.title")} detail={view.goal?.said.versions.at(-1)?.value.words || t("plan.none")} href={own("plan")} />
        <Row title={t("map.edit")} detail={t("map.count", { n: map.sections.length })} href={own("sections")} />
        <Row title={t("formulas.title")} detail={view.formulas.map((one) => one.formula.said.versions.at(-1)?.value.title).filter(Boolean).join(", ") || t("formulas.none")} href={own("formulas")} />
        <Row title={t("ask.today")} detail={t("ask.count", { done: view.screening.filter((one) => one.answered.versions.length > 0).length, all: view.screening.length })} href={own("questions")} />
        <Row title={t("sign.off.title")} detail={briefing.lacks ? t(`lack.${briefing.lacks}`) : t("sign.off.nothing")} href={own("sign")} {...(briefing.lacks ? { shape: "asks" as const } : {})} />
        <Row title={t("result.title")} detail={t("count.entries", { n: view.results.length })} href={own("result")} />
        <Row title={t("after.title")} detail={t("count.entries", { n: view.after.length + view.finishes.length })} href={own("after")} />
        <Row title={t("photos.title")} detail={t("count.entries", { n: view.photos.length })} href={own("photos")} />
        <Row title={t("timeline.title")} href={own("timeline")} />
      </Rows>
      <Cautions of={brief.cautions} />
      <Trouble error={error} />
      {closed
        ? <Button wide onPress={() => setReopening(true)}>{t("visit.reopen")}</Button>
        : <HoldButton wide big name={t("visit.close")} onHeld={() => void run((station) => station.closeVisit(id))}>{t("hold.to", { what: t("visit.close") })}</HoldButton>}
      {reopening && <Reason title={t("visit.reopen")} go={t("visit.reopen")} error={error} onClose={() => setReopening(false)} onGo={(why) => void run((station) => station.reopenVisit(id, why), () => setReopening(false))} />}
    </Screen>
  );
}

/** When the client is finished, by this house's own pace; what that rests on is one tap away. */
function Finish({ id }: { id: string }) {
  const live = useLive(`estimate ${id}`, async (station) => station.estimate(id, await station.assumed()));
  if (live.state !== "here" || live.value.finish_at_ms === null) return null;
  const said = live.value;
  return (
    <Fold title={<>{t("estimate.title", { time: clockTime(said.finish_at_ms ?? 0, zone.value) })}</>}>
      <p>{t("estimate.detail", { n: said.to_do, grams: weight(said.to_mix_mg, weights.value), painted: clockTime(said.painted_at_ms, zone.value) })}</p>
      <p><strong>{t("estimate.assumes")}</strong></p>
      <ul class="stack near small">{said.assumes.map((one) => <li key={one.text}>{told(one)}</li>)}</ul>
    </Fold>
  );
}

const Glove = ({ href, shape, children }: { href: string; shape: ShapeName; children: string }) => <a class="glove" href={href}><Shape of={shape} size={44} /><span>{children}</span></a>;

/** What comes next and when: alarms, looks at strands, makers' longest times. */
export function NextUp({ of, map }: { of: readonly Reminder[]; map?: SectionMap }) {
  const name = (section: string) => map?.sections.find((one) => one.id === section)?.name ?? "";
  return (
    <Part title={t("next.title")}>
      <ol class="next-up">
        {of.map((one, i) => {
          const left = one.due_ms - now.value, due = left <= 0;
          const what = one.reminder === "longest" ? t("next.longest", { section: name(one.section) }) : one.is_check ? t("next.check", { label: told(one.label) }) : told(one.label) || t(`kind.${one.kind}`);
          return (
            <li key={i} class={due ? "due" : ""}>
              <Shape of={due ? "off" : one.reminder === "timer" && one.is_check ? "look" : "comb"} />
              <span class="words"><strong>{what}</strong><span class="quiet small">{t("next.at", { time: clockTime(one.due_ms, zone.value) })}</span></span>
              <span class="figure">{due ? t("next.over", { time: minutes(-left) }) : countdown(left)}</span>
            </li>
          );
        })}
      </ol>
    </Part>
  );
}
