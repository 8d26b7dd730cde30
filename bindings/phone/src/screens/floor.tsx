// The floor: what runs, what can be started, who is here. Everything here is made for gloves: one tap or one hold, nothing
// to drag, nothing to type, and a key that turns the page.
import type { ComponentChildren } from "preact";
import { useCallback, useEffect, useState } from "preact/hooks";
import type { FloorView, FloorVisit } from "@tailcomb/web/types";
import "../look/floor.css";
import { awake } from "../alarm/device.ts";
import { screenTitle } from "../title.ts";
import { alarms, timersRun } from "../alarm/alarms.ts";
import { Lock, locked } from "../floor/lock.tsx";
import { newTimer, presetName, presets } from "../floor/presets.ts";
import { TimerSheet } from "../floor/timer-sheet.tsx";
import { TimerTile } from "../floor/tile.tsx";
import { doUndoably, UndoKey } from "../floor/undo.tsx";
import { floor, keyOf, running, type Running } from "../floor/view.ts";
import { has, to } from "../route.ts";
import { newer, startNewer } from "../update.ts";
import { now, zone } from "../time.ts";
import { Show, StatusLine } from "../ui/frame.tsx";
import { Shape, type ShapeName } from "../ui/shape.tsx";
import { clockTime, date, day, minutes, t, type PlainKey } from "../words/index.ts";

/** Where else one goes from here. A screen that is not built is not offered. */
const elsewhere: readonly [path: string, shape: ShapeName, word: PlainKey][] = [
  ["clients", "people", "go.clients"],
  ["mix", "bowl", "go.mix"],
  ["shelf", "shelf", "go.shelf"],
  ["close", "day", "go.close"],
  ["stations", "device", "go.stations"],
  ["settings", "settings", "go.settings"],
];
/** Up to so many timers are shown wide, with larger figures. */
const FEW = 3;
/** From so many on, tiles out of sight are not laid out. */
const MANY = 40;
const gridFor = (count: number) => (count <= FEW ? "glove-grid few" : count < MANY ? "glove-grid" : "glove-grid many");

export function Floor() {
  const [open, setOpen] = useState<string | undefined>();
  useEffect(() => { screenTitle.value = t("floor.title"); });
  const onOpen = useCallback((timer: Running) => setOpen(keyOf(timer.at)), []);
  const onStop = useCallback((timer: Running) => {
    if (timer.kind === "rinse") return setOpen(keyOf(timer.at));
    void doUndoably(t("floor.stopped", { what: timer.label }), (station) => station.stopTimer(timer.at), (station) => station.resumeTimer(timer.at));
  }, []);
  const opened = running.value.find((one) => keyOf(one.at) === open);
  return (
    <div class="floor">
      <Show live={floor.value}>{(view) => <Board view={view} onOpen={onOpen} onStop={onStop} />}</Show>
      <Dock />
      <Lock />
      {opened && !locked.value && <TimerSheet timer={opened} onClose={() => setOpen(undefined)} onStop={onStop} />}
    </div>
  );
}

function Board({ view, onOpen, onStop }: { view: FloorView; onOpen: (timer: Running) => void; onStop: (timer: Running) => void }) {
  const timers = running.value;
  return (
    <>
      <header class="floor-head">
        <h1>{view.salon}</h1>
        <span class="quiet">{date(view.date)}</span>
        <Wall />
      </header>
      <main id="content" tabIndex={-1}>
        {view.day_closed && <p class="note">{t("floor.day_closed")}</p>}
        <section aria-labelledby="f-timers">
          <h2 id="f-timers">{t("floor.timers")}</h2>
          {timers.length === 0
            ? <p class="quiet">{t("floor.none")}</p>
            : <ul class={gridFor(timers.length)}>{timers.map((one) => <TimerTile key={keyOf(one.at)} timer={one} onOpen={onOpen} onStop={onStop} />)}</ul>}
          {alarms.value.length > 0 && (
            <p class="quiet small">{t("alarm.short")} {awake.value === "yes" ? t("alarm.awake") : t("alarm.asleep")}</p>
          )}
        </section>
        <Start />
        {(view.visits.length > 0 || view.tests.length > 0 || view.questions > 0) && (
          <section aria-labelledby="f-clients">
            <h2 id="f-clients">{t("floor.clients")}</h2>
            <ul class="glove-grid">
              {view.questions > 0 && <li><Go href={to("settle")} there={has("settle")} shape="asks" look="look"><span class="name">{t("floor.questions", { n: view.questions })}</span></Go></li>}
              {view.visits.map((one) => <li key={one.visit}><Visit of={one} /></li>)}
              {view.tests.map((one) => (
                <li key={one.test}>
                  <Go href={to("client", one.client)} there={has("client", one.client)} shape={one.due ? "look" : "paused"} look={one.due ? "look" : ""}>
                    <span class="name">{one.client_name}</span>
                    <span class="whose">{one.due ? t("floor.test_due") : t("floor.test_from", { time: `${day(one.readable_at_ms, zone.value)} ${clockTime(one.readable_at_ms, zone.value)}` })}</span>
                  </Go>
                </li>
              ))}
            </ul>
          </section>
        )}
        <section aria-labelledby="f-else">
          <h2 id="f-else">{t("floor.elsewhere")}</h2>
          <ul class="glove-grid">
            {elsewhere.filter(([path]) => has(path)).map(([path, shape, word]) => (
              <li key={path}><a class="tile" href={to(path)}><Shape of={shape} size={36} /><span class="name">{t(word)}</span></a></li>
            ))}
            {newer.value && (timersRun.value
              ? <li><div class="tile"><Shape of="down" size={36} /><span class="whose">{t("update.waits")}</span></div></li>
              : <li><button type="button" class="tile" onClick={startNewer}><Shape of="down" size={36} /><span class="name">{t("update.ready")}</span><span class="whose">{t("update.take")}</span></button></li>)}
          </ul>
        </section>
      </main>
      <StatusLine />
    </>
  );
}

/** The time of day; by itself, for it follows the clock and the board does not. */
const Wall = () => <span class="wall">{clockTime(now.value, zone.value)}</span>;

/** A tile that leads somewhere, or only says what it says where that screen is not built. */
function Go({ href, there, shape, look = "", children }: { href: string; there: boolean; shape: ShapeName; look?: string; children: ComponentChildren }) {
  const inside = <><span class="top"><Shape of={shape} size={22} /></span>{children}</>;
  return there ? <a class={`tile ${look}`} href={href}>{inside}</a> : <div class={`tile ${look}`}>{inside}</div>;
}

function Visit({ of }: { of: FloorVisit }) {
  const asks = of.questions > 0 || of.holders.length > 1;
  const since = of.on_head_since ? t("floor.on_head", { time: minutes(now.value - of.on_head_since.ms) }) : undefined;
  const planned = of.stage === "expected" && of.planned_at_ms !== null ? t("floor.planned", { time: clockTime(of.planned_at_ms, zone.value) }) : undefined;
  return (
    <Go href={to("visit", of.visit)} there={has("visit", of.visit)} shape={asks ? "asks" : "people"} look={asks ? "look" : ""}>
      <span class="name">{of.client_name || of.service}</span>
      <span class="whose">{[t(`stage.${of.stage}`), since ?? planned].filter(Boolean).join(" · ")}</span>
      <span class="whose">{of.holders.map((one) => one.name).join(", ") || t("floor.nobody")}</span>
    </Go>
  );
}

/** How long a preset that was just pressed takes no second press: a drop of water taps twice. */
const REST_MS = 1_200;

function Start() {
  const [rests, setRests] = useState<number | undefined>();
  return (
    <section aria-labelledby="f-start">
      <h2 id="f-start">{t("floor.start")}</h2>
      <ul class="glove-grid">
        {presets.value.map((one, i) => (
          <li key={i}>
            <button type="button" class="tile start" aria-disabled={rests === i} onClick={() => {
              if (rests === i) return;
              setRests(i);
              setTimeout(() => setRests(undefined), REST_MS);
              void doUndoably(t("floor.started", { what: presetName(one), time: minutes(one.minutes * 60_000) }),
                (station) => station.startTimer(null, newTimer(one)), (station, made) => station.stopTimer({ doc: made.doc, timer: made.timer }));
            }}>
              <span class="figure-big">{one.minutes}<small> min</small></span>
              <span class="name">{presetName(one)}</span>
              {one.look_minutes !== null && <span class="whose">{t("floor.start.look", { n: one.look_minutes })}</span>}
            </button>
          </li>
        ))}
      </ul>
      <p class="quiet small">{t("floor.start.note")}</p>
    </section>
  );
}

/** Always in reach: undo what was just done, turn the page, lock. */
function Dock() {
  const [more, setMore] = useState<"none" | "down" | "top">("none");
  useEffect(() => {
    const look = () => {
      const { scrollHeight, clientHeight } = document.documentElement;
      setMore(scrollHeight <= clientHeight + 8 ? "none" : scrollY + clientHeight >= scrollHeight - 8 ? "top" : "down");
    };
    look();
    const sized = new ResizeObserver(look);
    sized.observe(document.body);
    addEventListener("scroll", look, { passive: true });
    return () => { sized.disconnect(); removeEventListener("scroll", look); };
  }, []);
  const turn = () => {
    const dock = document.querySelector(".dock")?.getBoundingClientRect().height ?? 0;
    if (more === "top") scrollTo({ top: 0 });
    else scrollBy({ top: innerHeight - dock - 48 });
  };
  return (
    <nav class="dock" aria-label={t("floor.further")}>
      <div class="keys">
        <UndoKey otherwise={<button type="button" class="tile flat" onClick={() => { locked.value = true; }}><Shape of="lock" size={32} /><span class="name">{t("floor.lock")}</span></button>} />
        {more !== "none" && (
          <button type="button" class="tile flat" onClick={turn}><Shape of={more === "top" ? "up" : "down"} size={32} /><span class="name">{more === "top" ? t("floor.to_top") : t("floor.further")}</span></button>
        )}
      </div>
    </nav>
  );
}
