// What happened at a visit, as its timeline shows it: moments, and stretches of time on the head or in the bowl.
import type { VisitView } from "@tailcomb/web/types";
import { weights } from "../time.ts";
import { t, weight } from "../words/index.ts";
import { told } from "../words/told.ts";
import { last, level, listed, zoneName } from "./said.ts";

export interface Happened { at: number; by: string; text: string }
/** Something that lasted: product on a section, a bowl that works. `until`: undefined while it lasts. */
export interface Lane { name: string; from: number; until: number | undefined; kind: "section" | "bowl" }

const sectionName = (view: VisitView, id: string) => { const item = view.sections.find((one) => one.section.id === id); return (item && last(item.section.said)?.name) ?? "?"; };
const bowlName = (view: VisitView, id: string | null) => view.bowls.flatMap((one) => (one.id === id ? [told(one.label)] : []))[0];

export function happened(view: VisitView): Happened[] {
  const all: Happened[] = [];
  if (view.opening) all.push({ at: view.opening.at.ms, by: view.opening.by, text: t("timeline.opened") });
  for (const bowl of view.bowls) {
    const first = bowl.mixed.versions[0];
    const grams = (last(bowl.mixed)?.parts ?? []).reduce((sum, part) => sum + part.amount_mg, 0);
    if (bowl.mixed_at && first) all.push({ at: bowl.mixed_at.ms, by: first.by, text: t("timeline.mixed", { bowl: told(bowl.label), grams: weight(grams, weights.value) }) });
  }
  for (const one of view.exposure.sections) {
    const section = sectionName(view, one.section);
    for (const painting of [...one.on_hair, ...one.rinsed_off]) {
      const bowl = bowlName(view, painting.bowl);
      all.push({ at: painting.at.ms, by: painting.by, text: bowl ? t("timeline.painted_from", { section, bowl }) : t("timeline.painted", { section }) });
    }
    for (const rinse of one.rinses) all.push({ at: rinse.at.ms, by: rinse.by, text: t("timeline.rinsed", { section }) });
  }
  for (const { value, item } of listed(view.checks)) {
    const by = item.said.versions.at(-1)!;
    all.push({ at: by.at.ms, by: by.by, text: [t("timeline.checked", { section: sectionName(view, value.section) }), value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.warmth, value.feel && t(`feel.${value.feel}`).toLowerCase()].filter(Boolean).join(", ") });
  }
  for (const { value, item } of listed(view.finishes)) { const by = item.said.versions[0]!; all.push({ at: by.at.ms, by: by.by, text: `${t(`finish.${value.kind}`)}: ${value.product}` }); }
  for (const { value, item } of listed(view.results)) { const by = item.said.versions.at(-1)!; all.push({ at: by.at.ms, by: by.by, text: [t("timeline.result", { zone: zoneName(value.zone) }), value.level_tenths && t("hair.level", { level: level(value.level_tenths) }), value.tone].filter(Boolean).join(", ") }); }
  for (const one of view.overrides) all.push({ at: one.at.ms, by: one.by, text: t("timeline.answered") });
  for (const sign of view.countersigns) for (const one of sign.answers) all.push({ at: one.at.ms, by: one.by, text: `${t("sign.off.title")}: ${t(one.agrees ? "sign.off.agreed" : "sign.off.wants")}` });
  return all.sort((a, b) => a.at - b.at);
}

export function lanes(view: VisitView): Lane[] {
  const sections = view.exposure.sections.flatMap((one): Lane[] => {
    const paintings = [...one.on_hair, ...one.rinsed_off].map((painting) => painting.at.ms);
    if (paintings.length === 0) return [];
    return [{ name: sectionName(view, one.section), from: Math.min(...paintings), until: one.on_hair.length > 0 ? undefined : Math.max(...one.rinses.map((rinse) => rinse.at.ms)), kind: "section" }];
  });
  const bowls = view.bowls.flatMap((bowl): Lane[] => (bowl.mixed_at ? [{ name: told(bowl.label), from: bowl.mixed_at.ms, until: bowl.state === "in_use" ? undefined : bowl.end.versions.at(-1)?.at.ms, kind: "bowl" }] : []));
  return [...bowls, ...sections].sort((a, b) => a.from - b.from);
}
