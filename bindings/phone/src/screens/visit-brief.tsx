// What whoever takes over must see, on one screen and on one printed page: what to watch, what is on the head since when, what is
// next, what is open. Taking over takes every timer along.
import { useState } from "preact/hooks";
import type { Briefing, SectionMap } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { now, personName, person, said, salon, salonName, weights, zone } from "../time.ts";
import { clockTime, day, minutes, percent, t, volumes, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions, Part } from "../ui/ask.tsx";
import { ExposureChart } from "../ui/exposure.tsx";
import { Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { HeadMap, SectionList } from "../ui/head-map.tsx";
import { Button } from "../ui/press.tsx";
import { StopNote } from "../ui/stop.tsx";
import { isClosed } from "../ui/work.tsx";
import { WatchList } from "./card.tsx";
import { NextUp } from "./visit.tsx";

export function Brief({ id }: { id: string }) {
  const live = useLive(`brief ${id}`, async (station) => ({ briefing: await station.brief(id), map: await station.sectionMap(id), closed: isClosed(await station.visit(id)) }));
  return <Show live={live} within={{ title: t("brief.title") }}>{(shown) => <Page id={id} {...shown} />}</Show>;
}

function Page({ id, briefing, map, closed }: { id: string; briefing: Briefing; map: SectionMap; closed: boolean }) {
  const { busy, error, run } = useAct();
  const [offering, setOffering] = useState(false);
  const { brief, stop } = briefing;
  const me = person.value?.id;
  const mine = brief.holders.now.some((one) => one.person === me), alone = mine && brief.holders.now.length === 1;
  const working = brief.bowls.filter((one) => one.state === "in_use" || one.state === "planned"), done = brief.bowls.filter((one) => !working.includes(one));
  return (
    <Screen title={briefing.client_name ?? t("brief.title")} back={to("visit", id)}>
      <div class="brief stack">
        <p class="print-only">{salonName.value} · {day(now.value, zone.value)} {clockTime(now.value, zone.value)}</p>
        <p>{[brief.service, ...brief.goal].filter(Boolean).join(" · ")}</p>
        {brief.holders.now.length > 0 && <p class="quiet">{brief.holders.now.map((one) => t("brief.holds", { who: personName(one.person), since: clockTime(one.since.ms, zone.value) })).join(" · ")}</p>}
        {stop.stands && <StopNote visit={id} stop={stop} />}
        <WatchList of={brief.watch_card} more={[...brief.watch.map((one) => ({ text: one.text, ...(one.at ? { at: one.at.ms } : {}) })), ...(briefing.alert_test ? [{ text: briefing.alert_test.text }] : [])]} />
        {brief.watch_card.length === 0 && <p class="quiet">{t("watch.none")}</p>}
        {brief.overrides.filter((one) => one.withdrawn.length === 0).map((one) => <Note key={one.id} kind="off"><strong>{t("stop.by", { who: personName(one.by), when: clockTime(one.at.ms, zone.value) })}</strong><span>“{one.why}”</span></Note>)}
        {brief.next.length > 0 && <NextUp of={brief.next} map={map} />}
        <Part title={t("brief.on_head")}>
          {brief.on_hair.length === 0 ? <p class="quiet">{t("brief.nothing_on")}</p> : <ExposureChart of={brief.on_hair} />}
          <p class="facts">{[brief.to_do.length > 0 && t("brief.to_do", { sections: brief.to_do.join(", ") }), brief.rinsed.length > 0 && t("rinse.done", { sections: brief.rinsed.join(", ") }), brief.left_out.length > 0 && t("brief.left_out", { sections: brief.left_out.join(", ") })].filter(Boolean).map((one) => <span key={String(one)}>{one}<br /></span>)}</p>
        </Part>
        {map.sections.length > 0 && <div class="stack near"><HeadMap map={map} /><SectionList of={map.sections} /></div>}
        {working.length + done.length > 0 && (
          <Part title={t("bowls.title")}>
            <Rows>
              {[...working, ...done].map((one) => (
                <Row key={one.bowl} shape="bowl" title={`${told(one.label)} · ${t(`bowl.${one.state}`)}`} end={one.state === "in_use" && one.life_left_ms !== null ? (one.life_left_ms > 0 ? t("bowl.left", { time: minutes(one.life_left_ms) }) : t("bowl.over")) : undefined}
                  detail={[one.formula, told(one.contents), one.strength_mvol && volumes(one.strength_mvol), one.on_head_pct_e4 && t("bowl.on_head", { percent: percent(one.on_head_pct_e4) }), one.mixed_ago_ms !== null && t("brief.mixed_ago", { time: minutes(one.mixed_ago_ms) }), one.leftover_mg && t("brief.left_over", { grams: weight(one.leftover_mg, weights.value) })].filter(Boolean).join(" · ")} />
              ))}
            </Rows>
          </Part>
        )}
        {brief.questions.length > 0 && (
          <Part title={t("brief.open")}>
            {brief.questions.map((one) => <Note key={`${one.collection} ${one.entry}`} kind="look" shape="asks"><strong>{told(one.title)}</strong><ul>{one.sides.map((side) => <li key={side.rev}>{told(side.text)} <span class="small">({personName(side.by)} {clockTime(side.at.ms, zone.value)})</span></li>)}</ul></Note>)}
            <a class="button wide" href={to("settle", id)}>{t("settle.title")}</a>
          </Part>
        )}
        <Cautions of={brief.cautions} />
      </div>
      <Trouble error={error} />
      {!alone && !closed && <Button look="main" wide class="glove-high" busy={busy} onPress={() => void run((station) => station.take(id))}>{brief.holders.now.length === 0 ? t("visit.take") : t("brief.take_over")}</Button>}
      {mine && !closed && <Button wide big onPress={() => setOffering(true)}>{t("brief.hand_over")}</Button>}
      {brief.holders.now.filter((one) => one.offers_to).map((one) => <Note key={one.rev}>{t("brief.offered", { who: personName(one.person), to: personName(one.offers_to ?? "") })}</Note>)}
      <Button wide onPress={() => print()}>{t("brief.print")}</Button>
      {offering && (
        <Sheet title={t("brief.hand_over")} onClose={() => setOffering(false)}>
          <p class="quiet">{t("brief.hand_over.lead")}</p>
          <Trouble error={error} />
          <Rows>{(salon.value?.people ?? []).filter((one) => one.id !== me && said(one.active) !== false).map((one) => <Row key={one.id} shape="people" title={said(one.name) ?? "?"} detail={t(`role.${said(one.role) ?? "associate"}`)} onPress={() => void run((station) => station.handOver(id, one.id), () => setOffering(false))} />)}</Rows>
        </Sheet>
      )}
    </Screen>
  );
}
