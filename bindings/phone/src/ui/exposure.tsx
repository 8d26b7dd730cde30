// How long product is on each section, against the maker's longest time: a bar that fills, a line where the label ends, and
// the figure in words. Oldest first, which is also the order to rinse in.
import type { BriefSection } from "@tailcomb/web/types";
import { now } from "../time.ts";
import { minutes, t } from "../words/index.ts";
import { told } from "../words/told.ts";

export function ExposureChart({ of, label = t("exposure.title") }: { of: readonly BriefSection[]; label?: string }) {
  const rows = [...of].sort((a, b) => a.since.ms - b.since.ms).map((one) => {
    const longest = one.longest_left_ms === null ? undefined : one.elapsed_ms + one.longest_left_ms;
    const elapsed = Math.max(0, now.value - one.since.ms);
    return { one, longest, elapsed, over: longest !== undefined && elapsed >= longest };
  });
  const scale = Math.max(60_000, ...rows.map((row) => Math.max(row.elapsed, row.longest ?? 0))) * 1.04;
  return (
    <ol class="exposure" aria-label={label}>
      {rows.map(({ one, longest, elapsed, over }) => (
        <li key={one.section} class={over ? "over" : ""}>
          <span class="head"><strong>{one.symbol ? `${one.symbol} · ${one.name}` : one.name}</strong><span class="figure">{minutes(elapsed)}</span></span>
          <span class="bar" aria-hidden="true">
            <i style={{ width: `${(elapsed / scale) * 100}%` }} />
            {longest !== undefined && <b style={{ left: `${(longest / scale) * 100}%` }} />}
          </span>
          <span class="quiet small">
            {over ? t("exposure.over", { time: minutes(elapsed - (longest ?? 0)) }) : longest === undefined ? t("exposure.no_label") : t("exposure.left", { time: minutes(longest - elapsed), longest: minutes(longest) })}
            {one.bowls.length > 0 && ` · ${one.bowls.map(told).join(", ")}`}{one.asks && ` · ${t("asks.differ")}`}
          </span>
        </li>
      ))}
    </ol>
  );
}
