// With gloves on: one tap says that product went on a section, and for ten seconds another takes it back.
import { useEffect, useState } from "preact/hooks";
import type { BowlView, MapSection, Painted } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Cautions } from "../ui/ask.tsx";
import { Choice } from "../ui/form.tsx";
import { Empty, Screen, Show, Trouble } from "../ui/frame.tsx";
import { HeadMap, SectionList, StatePatch, stateOf, stateTold } from "../ui/head-map.tsx";
import { Button, ButtonLink, useHold } from "../ui/press.tsx";
import { StopNote } from "../ui/stop.tsx";
import { isClosed, Work } from "../ui/work.tsx";
import { placeOf } from "../work/said.ts";

const UNDO_MS = 10_000;

export function Paint({ id }: { id: string }) {
  const live = useLive(`paint ${id}`, async (station) => ({ map: await station.sectionMap(id), view: await station.visit(id), stop: await station.stop(id) }));
  const [chosen, setChosen] = useState<string | undefined>();
  const [done, setDone] = useState<{ section: MapSection; painted: Painted } | undefined>();
  const { busy, error, run } = useAct();
  useEffect(() => {
    if (!done) return;
    const timer = setTimeout(() => setDone(undefined), UNDO_MS);
    return () => clearTimeout(timer);
  }, [done]);
  return (
    <Screen title={t("paint.title")} back={to("visit", id)}>
      <Show live={live}>
        {({ map, view, stop }) => {
          const bowls = view.bowls.filter((one) => one.state === "in_use");
          const bowl = chosen ?? bowls.at(-1)?.id;
          const paint = (section: MapSection) => void run((station) => station.paint(id, [section.id], bowl ?? null, null, { timer: "for_longest" }), (painted) => { navigator.vibrate?.(40); setDone({ section, painted }); });
          const todo = map.sections.filter((one) => one.state !== "left_out");
          if (isClosed(view)) return <Work view={view}><HeadMap map={map} /><SectionList of={map.sections} /></Work>;
          return (
            <>
              {stop.stands && <StopNote visit={id} stop={stop} />}
              {bowls.length > 1 && <Choice label={t("paint.bowl")} value={bowl} onChange={setChosen} options={bowls.map((one: BowlView) => ({ value: one.id, text: told(one.label) }))} />}
              {bowls.length === 1 && <p>{t("paint.from", { bowl: told(bowls[0]!.label) })}</p>}
              {bowls.length === 0 && <Empty shape="bowl">{t("paint.no_bowl")} <a href={to("visit", id, "bowls")}>{t("bowls.title")}</a></Empty>}
              {todo.length === 0 && <Empty>{t("map.empty")} <a href={to("visit", id, "sections")}>{t("map.edit")}</a></Empty>}
              <Trouble error={error} />
              <div class="gloves" role="list" aria-label={t("paint.title")}>
                {todo.map((section) => <div role="listitem" key={section.id}><Tile section={section} busy={busy} onPaint={() => paint(section)} /></div>)}
              </div>
              {map.sections.some((one) => one.state === "on_hair") && <ButtonLink href={to("visit", id, "rinse")} wide big>{t("rinse.go")}</ButtonLink>}
              <HeadMap map={map} />
              {done && <Cautions of={done.painted.cautions} />}
            </>
          );
        }}
      </Show>
      {done && (
        <div class="toast" role="status">
          <span>{t("paint.done", { section: done.section.name })}</span>
          <Button look="main" big onPress={() => void run(async (station) => { for (const step of done.painted.steps) await station.takeBack(id, done.section.id, step); if (done.painted.timer) await station.stopTimer({ doc: id, timer: done.painted.timer }); }, () => setDone(undefined))}>{t("do.undo")}</Button>
        </div>
      )}
    </Screen>
  );
}

/** To do: a tap. On the hair already: held, for going over it again is rare and must not happen by a wet finger. */
function Tile({ section, busy, onPaint }: { section: MapSection; busy: boolean; onPaint: () => void }) {
  const { handlers } = useHold(onPaint);
  const again = section.state === "on_hair";
  const inside = <><StatePatch state={stateOf(section)} size={40} /><strong>{section.label} · {section.name}</strong><span class="small">{placeOf(section) !== section.name ? placeOf(section) : ""}</span><span>{again ? stateTold(section) : t("paint.tap")}</span></>;
  return again
    ? <button type="button" class={`glove hold ${stateOf(section)}`} aria-description={t("paint.again")} {...handlers}>{inside}</button>
    : <button type="button" class={`glove ${stateOf(section)}`} aria-disabled={busy} onClick={() => { if (!busy) onPaint(); }}>{inside}</button>;
}
