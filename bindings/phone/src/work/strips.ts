// What the strip "before → goal → result" shows: the card's last word on a zone before this visit, the plan's, the result's.
import type { ClientView, VisitView } from "@tailcomb/web/types";
import type { Strip } from "../ui/tone.tsx";
import { fieldNumber, listed, zones } from "./said.ts";

export function strips(view: VisitView, card: ClientView | undefined): Strip[] {
  const targets = listed(view.targets), results = listed(view.results);
  const named = [...new Set([...targets, ...results].map((one) => one.value.zone))];
  const order = (name: string) => { const at = zones.findIndex((one) => one.name === name); return at < 0 ? zones.length : at; };
  return named.sort((a, b) => order(a) - order(b)).map((name) => {
    // The card's history is newest first; what this visit wrote there is not "before".
    const done = card?.chemical.filter((one) => one.stands).flatMap((one) => one.versions).find((one) => one.value.zone === name && one.value.visit !== view.doc && one.value.level_tenths);
    const natural = card && fieldNumber(card, "natural_level_tenths");
    const goal = targets.find((one) => one.value.zone === name)?.value, result = results.find((one) => one.value.zone === name)?.value;
    return {
      zone: name,
      before: { tenths: done?.value.level_tenths ?? natural },
      goal: goal && { tenths: goal.level_tenths, tone: goal.tone },
      result: result && { tenths: result.level_tenths, tone: result.tone },
    };
  });
}
