// The scale: every part with what it should weigh; a tap on one says what it came to. Then "mixed", and the working life runs.
import { useState } from "preact/hooks";
import type { BowlReady, BowlView } from "@tailcomb/web/types";
import { useAct } from "../live.ts";
import { weights } from "../time.ts";
import { minutes, percent, t, volumes, weight } from "../words/index.ts";
import { Cautions } from "../ui/ask.tsx";
import { NumberPad, thousandths } from "../ui/form.tsx";
import { Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { Broken } from "../ui/weighed.tsx";
import { last } from "../work/said.ts";

export function Scale({ visit, bowl, onDone }: { visit: string; bowl: BowlReady | BowlView; onDone: () => void }) {
  const ready = "contents" in bowl;
  const contents = ready ? bowl.contents : last(bowl.mixed) ?? last(bowl.planned);
  const id = ready ? bowl.bowl : bowl.id;
  const [weighed, setWeighed] = useState<Record<number, number>>({});
  const [at, setAt] = useState<number | undefined>();
  const [typed, setTyped] = useState("");
  const { busy, error, run } = useAct();
  if (!contents) return null;
  const part = at === undefined ? undefined : contents.parts[at];
  if (part && at !== undefined) {
    return (
      <>
        <NumberPad label={t("scale.came_to", { what: part.name, grams: weight(part.amount_mg, weights.value) })} value={typed} unit="g" decimals={1} onChange={setTyped} />
        <Button look="main" wide class="glove-high" disabled={thousandths(typed) === undefined} onPress={() => { setWeighed({ ...weighed, [at]: thousandths(typed) ?? 0 }); setAt(undefined); }}>{t("do.done")}</Button>
        <Button wide onPress={() => setAt(undefined)}>{t("do.cancel")}</Button>
      </>
    );
  }
  const total = contents.parts.reduce((sum, one, i) => sum + (weighed[i] ?? one.amount_mg), 0);
  return (
    <>
      <p class="quiet">{t("scale.lead")}</p>
      <div class="rows">
        {contents.parts.map((one, i) => (
          <div key={i}>
            <button type="button" class="row scale-row" onClick={() => { setTyped(""); setAt(i); }}>
              <span class="words"><span>{one.name}</span><span>{[t(`role_of.${one.role}`), one.strength_mvol && volumes(one.strength_mvol)].filter(Boolean).join(" · ")}</span></span>
              <span class="figure">{weight(weighed[i] ?? one.amount_mg, weights.value)}</span>
              {weighed[i] !== undefined && weighed[i] !== one.amount_mg && <Shape of="undo" size={20} />}
            </button>
          </div>
        ))}
        <div class="row scale-row"><span class="words"><span>{t("bowl.total")}</span></span><span class="figure">{weight(total, weights.value)}</span></div>
      </div>
      <p class="quiet small">{[bowl.on_head_pct_e4 !== null && t("bowl.on_head", { percent: percent(bowl.on_head_pct_e4) }), contents.working_life_ms && t("scale.life", { time: minutes(contents.working_life_ms) })].filter(Boolean).join(" · ")}</p>
      {ready && <Broken of={bowl.findings} />}
      {ready && <Cautions of={bowl.cautions} />}
      <Trouble error={error} />
      <Button look="main" wide class="glove-high" busy={busy} onPress={() => void run((station) => station.mixed(visit, id, Object.entries(weighed).map(([n, mg]) => [Number(n), mg] as [number, number])), onDone)}>{t("scale.mixed")}</Button>
    </>
  );
}
