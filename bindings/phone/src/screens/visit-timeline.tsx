// The visit in time: what was on the head from when to when, what happened by the minute, and everything that was ever said.
import { useState } from "preact/hooks";
import type { HistoryLine, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { now, personName, zone } from "../time.ts";
import { clockTime, day, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Fold, Part } from "../ui/ask.tsx";
import { Empty, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button, HoldButton } from "../ui/press.tsx";
import { happened, lanes } from "../work/happened.ts";

const AT_ONCE = 60;
const when = (ms: number) => clockTime(ms, zone.value);

export function Timeline({ id }: { id: string }) {
  const live = useLive(`timeline ${id}`, async (station) => ({ view: await station.visit(id), lines: await station.history(id) }), [id]);
  const { error, run } = useAct();
  return (
    <Screen title={t("timeline.title")} back={to("visit", id)}>
      <Trouble error={error} />
      <Show live={live}>
        {({ view, lines }) => (
          <>
            <Lanes view={view} />
            <Moments view={view} />
            <Fold title={t("timeline.all", { n: lines.length })}><Everything lines={lines} /></Fold>
            <HoldButton wide name={t("timeline.undo")} onHeld={() => void run((station) => station.undo(id))}>{t("hold.to", { what: t("timeline.undo") })}</HoldButton>
          </>
        )}
      </Show>
    </Screen>
  );
}

/** Bars from painting to rinse and from mixing to the end of a bowl, on one scale of time. */
function Lanes({ view }: { view: VisitView }) {
  const all = lanes(view);
  if (all.length === 0) return null;
  const end = Math.max(...all.map((one) => one.until ?? now.value)), begin = Math.min(...all.map((one) => one.from));
  const part = (ms: number) => `${((ms - begin) / Math.max(60_000, end - begin)) * 100}%`;
  return (
    <Part title={t("timeline.lanes")}>
      <figure class="lanes">
        <ul>
          {all.map((one, i) => (
            <li key={i} aria-label={t("timeline.lane", { name: one.name, from: when(one.from), until: one.until === undefined ? t("timeline.now") : when(one.until) })}>
              <span>{one.name}</span>
              <span class="lane" aria-hidden="true"><i class={`${one.kind}${one.until === undefined ? " lasts" : ""}`} style={{ left: part(one.from), right: `calc(100% - ${part(one.until ?? now.value)})` }} /></span>
            </li>
          ))}
        </ul>
        <figcaption class="small quiet"><span>{when(begin)}</span><span>{when(begin + (end - begin) / 2)}</span><span>{all.some((one) => one.until === undefined) ? t("timeline.now") : when(end)}</span></figcaption>
      </figure>
    </Part>
  );
}

function Moments({ view }: { view: VisitView }) {
  const all = happened(view).reverse();
  if (all.length === 0) return <Empty>{t("timeline.none")}</Empty>;
  const groups: (typeof all)[] = [];
  for (const one of all) {
    const before = groups.at(-1);
    if (before && when(before[0]!.at) === when(one.at) && one.at > before[0]!.at - 3_600_000) before.push(one);
    else groups.push([one]);
  }
  return (
    <ol class="timeline">
      {groups.map((group, i) => {
        const at = group[0]!.at, above = groups[i - 1]?.[0]?.at;
        return (
          <li key={at}>
            <time dateTime={new Date(at).toISOString()}>{above === undefined || day(at, zone.value) !== day(above, zone.value) ? <span class="small quiet">{day(at, zone.value)}</span> : null}<strong>{when(at)}</strong></time>
            <ul>{group.map((one, n) => <li key={n}>{one.text} <span class="small quiet">{personName(one.by)}</span></li>)}</ul>
          </li>
        );
      })}
    </ol>
  );
}

/** The record itself, in the core's words, newest first. */
function Everything({ lines }: { lines: readonly HistoryLine[] }) {
  const [most, setMost] = useState(AT_ONCE);
  return (
    <>
      <ol class="stack near">
        {[...lines].reverse().slice(0, most).map((line, i) => <li key={i} class="small"><strong>{when(line.at.ms)}</strong> <span>{told(line.place)} {told(line.text)}</span> <span class="quiet">{personName(line.by)}</span></li>)}
      </ol>
      {lines.length > most && <Button wide onPress={() => setMost(most + AT_ONCE)}>{t("timeline.more", { n: lines.length - most })}</Button>}
    </>
  );
}
