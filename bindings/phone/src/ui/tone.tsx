// Levels as tones: a row from the darkest to the lightest with the one that is meant marked, and the strip from before over
// the goal to the result. The tones are symbols on a screen, not measurements; the figure beside them is what counts.
import { level, zoneName } from "../work/said.ts";
import { t } from "../words/index.ts";

/** Level 1 to 10, as a picture of natural hair; above 10 the lightest. */
const tones = ["#141110", "#231a16", "#35251c", "#4a3323", "#5f432c", "#7a5736", "#987145", "#b58f5b", "#cfb17c", "#e5d2a8"];
export function toneOf(tenths: number): string {
  const at = Math.min(9, Math.max(0, tenths / 10 - 1));
  const low = Math.floor(at), part = at - low;
  const mix = (i: number) => {
    const a = parseInt(tones[low]!.slice(1 + 2 * i, 3 + 2 * i), 16), b = parseInt(tones[Math.min(9, low + 1)]!.slice(1 + 2 * i, 3 + 2 * i), 16);
    return Math.round(a + (b - a) * part);
  };
  return `rgb(${mix(0)} ${mix(1)} ${mix(2)})`;
}

export const LevelRow = ({ tenths }: { tenths: number }) => (
  <div class="levels" aria-hidden="true">
    {tones.map((tone, i) => <span key={tone} style={{ background: tone }} class={Math.round(tenths / 10) === i + 1 || (i === 9 && tenths > 105) ? "meant" : ""}><i>{i + 1}</i></span>)}
  </div>
);

export interface Stage { tenths?: number | null | undefined; tone?: string | undefined }
export interface Strip { zone: string; before: Stage; goal?: Stage | undefined; result?: Stage | undefined }

const Swatch = ({ what, stage }: { what: string; stage: Stage | undefined }) => {
  const known = stage && (stage.tenths || stage.tone);
  return (
    <div class={known ? "swatch" : "swatch open"}>
      <span class="patch" style={stage?.tenths ? { background: toneOf(stage.tenths) } : {}} aria-hidden="true" />
      <span class="quiet small">{what}</span>
      <strong>{known ? [stage.tenths ? level(stage.tenths) : "", stage.tone].filter(Boolean).join(" ") : "–"}</strong>
    </div>
  );
};

/** Before → goal → result, zone by zone. */
export const ToneStrip = ({ of }: { of: readonly Strip[] }) => (
  <div class="stack near">
    {of.map((one) => (
      <section class="tone-strip" key={one.zone} aria-label={zoneName(one.zone)}>
        <h2>{zoneName(one.zone)}</h2>
        <div class="stages"><Swatch what={t("strip.before")} stage={one.before} /><Swatch what={t("strip.goal")} stage={one.goal} /><Swatch what={t("strip.result")} stage={one.result} /></div>
      </section>
    ))}
  </div>
);
