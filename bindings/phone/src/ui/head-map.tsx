// The section map as a live picture: the core says where each section lies and how it stands; here it is only drawn. A state
// is a pattern, a border, a number and a word at once, never a colour alone.
import { useId } from "preact/hooks";
import type { MapSection, MapShape, SectionMap } from "@tailcomb/web/types";
import { now } from "../time.ts";
import { minutes, t } from "../words/index.ts";
import { placeOf } from "../work/said.ts";

export type SectionState = "planned" | "on_hair" | "over" | "rinsed" | "left_out";
export const stateOf = (section: MapSection): SectionState => (section.state === "on_hair" && section.over ? "over" : section.state);

/** How a section stands, in words. Minutes go on between two answers of the core. */
export function stateTold(section: MapSection): string {
  if (section.state !== "on_hair") return t(`section.${section.state}`);
  const time = minutes(Math.max(0, now.value - section.since.ms - 30_000));
  return section.over ? t("section.over", { time }) : t("section.on_hair", { time });
}
const shortMinutes = (section: MapSection) => (section.state === "on_hair" ? `${Math.max(0, Math.floor((now.value - section.since.ms) / 60_000))}′` : "");

/** The patterns that the states are filled with; once a page, by a name of its own. */
const Patterns = ({ name }: { name: string }) => (
  <defs>
    <pattern id={`${name}-on`} width="80" height="80" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="80" height="80" class="map-sheet" /><rect width="30" height="80" class="map-on" /></pattern>
    <pattern id={`${name}-over`} width="60" height="60" patternUnits="userSpaceOnUse"><rect width="60" height="60" class="map-sheet" /><path d="M0 0L60 60M60 0L0 60" class="map-over" stroke-width="18" /></pattern>
    <pattern id={`${name}-rinsed`} width="120" height="80" patternUnits="userSpaceOnUse"><rect width="120" height="80" class="map-sheet" /><path d="M0 40Q30 10 60 40T120 40" fill="none" class="map-mark" stroke-width="9" /></pattern>
    <pattern id={`${name}-left_out`} width="100" height="100" patternUnits="userSpaceOnUse"><rect width="100" height="100" class="map-sheet" /><circle cx="50" cy="50" r="10" class="map-dot" /></pattern>
  </defs>
);
const fill = (name: string, state: SectionState) => (state === "planned" ? "var(--sheet)" : `url(#${name}-${state === "on_hair" ? "on" : state})`);

/** The pattern of a state, small, for lists and keys. */
export function StatePatch({ state, size = 32 }: { state: SectionState; size?: number }) {
  const name = useId();
  return (
    <svg class="map-patch" viewBox="0 0 240 240" width={size} height={size} aria-hidden="true"><Patterns name={name} />
      <rect x="12" y="12" width="216" height="216" fill={fill(name, state)} class={`map-shape ${state}`} />
    </svg>
  );
}

function Drawn({ name, shape, section }: { name: string; shape: MapShape; section: MapSection }) {
  const state = stateOf(section), [x, y] = shape.at, size = Math.min(190, Math.max(90, shape.room * 0.75));
  const short = shortMinutes(section);
  return (
    <g data-section={section.id} data-state={state}>
      <path d={shape.path} fill={fill(name, state)} class={`map-shape ${state}`} />
      {shape.mark && <path d={shape.mark} class="map-line" />}
      {shape.arrow && <path d={shape.arrow} class="map-line" />}
      <text x={x} y={y} font-size={size}>{section.label}{section.asks ? "?" : ""}</text>
      {short && <text x={x} y={y + size} font-size={size * 0.9}>{short}</text>}
    </g>
  );
}

/** All views that have something on them, side by side; in words beneath for whoever cannot see it. */
export function HeadMap({ map }: { map: SectionMap }) {
  const name = useId();
  const views = map.views.filter((view) => view.shapes.length > 0);
  const sections = new Map(map.sections.map((section) => [section.id, section]));
  if (views.length === 0) return map.sections.length === 0 ? <p class="quiet">{t("map.empty")}</p> : null;
  return (
    <div class="stack near">
      <div class="map-views">
        {views.map((view) => (
          <figure key={view.view}>
            <svg viewBox={`-20 -20 ${map.width + 40} ${map.height + 40}`} role="img" aria-label={`${t(`view.${view.view}`)}: ${view.shapes.flatMap((shape) => { const one = sections.get(shape.id); return one ? [`${one.label} ${stateTold(one)}`] : []; }).join(", ")}`}>
              <Patterns name={`${name}-${view.view}`} />
              <path d={view.outline} class="map-outline" />
              {view.features.map((path) => <path key={path} d={path} class="map-feature" />)}
              {view.shapes.map((shape) => { const section = sections.get(shape.id); return section && <Drawn key={shape.id} name={`${name}-${view.view}`} shape={shape} section={section} />; })}
            </svg>
            <figcaption class="quiet small">{t(`view.${view.view}`)}</figcaption>
          </figure>
        ))}
      </div>
    </div>
  );
}

/** Sections whose places are no part of a head ("ends", "the band"): no picture shows them. */
export function unpictured(map: SectionMap): MapSection[] {
  const pictured = new Set(map.views.flatMap((view) => view.shapes.map((shape) => shape.id)));
  return map.sections.filter((section) => !pictured.has(section.id));
}

/** Sections in words, with the pattern they have on the map. */
export const SectionList = ({ of }: { of: readonly MapSection[] }) => (
  <ul class="section-list">
    {of.map((section) => (
      <li key={section.id}>
        <StatePatch state={stateOf(section)} />
        <span class="words"><strong>{section.label} · {section.name}</strong><span class="quiet small">{[placeOf(section) !== section.name && placeOf(section), stateTold(section), section.asks && t("asks.differ")].filter(Boolean).join(" · ")}</span></span>
      </li>
    ))}
  </ul>
);
