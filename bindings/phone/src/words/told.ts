// What the core says, in the reader's language: a sentence with named places, looked up by its English, and what stands
// in the places written as the reader writes it. `core.json` of a language is all that a translator touches.
import type { StationError } from "@tailcomb/web";
import type { Page, Told, ToldValue } from "@tailcomb/web/types";
import { lengths, weights, zone } from "../time.ts";
import { length, level, money } from "../work/said.ts";
import es from "./es/core.json";
import { clockTime, countdown, day, language, locale, minutes, number, percent, plural, ratio, t, volumes, weight, type Language, type PlainKey, type Plural } from "./index.ts";

/** By language, what each English sentence is; English needs none. */
const catalogues: Partial<Record<Language, Readonly<Record<string, string | Plural>>>> = { es };

/** Says it in the reader's language. Read inside a component it follows the chosen one. */
export const told = (of: Told): string => said(of, day);

function said(of: Told, dayTold: typeof day): string {
  const sentence = catalogues[language.value]?.[of.say] ?? of.say;
  const values = new Map((of.with ?? []).map((given) => [given.name, given.value]));
  const n = values.get("n");
  const text = typeof sentence === "string" ? sentence : sentence[plural(n?.kind === "count" ? n.n : 2)];
  return text.replace(/\{(\w+)\}/g, (place, name: string) => { const value = values.get(name); return value ? written(value, dayTold) : place; });
}

/** What the app itself says of a refusal that did not come from the core. */
const byCode: Readonly<Record<string, PlainKey>> = { unreachable: "refused.unreachable", elsewhere: "refused.elsewhere", interrupted: "refused.interrupted" };
/** Why something was refused, in the reader's language; a mistake of Tailcomb's own comes as it is. */
export function refused(error: StationError): string {
  const key = byCode[error.code];
  return error.said ? told(error.said) : key ? t(key) : error.message;
}

/** On paper a day is read years later. */
const dayOfYear: typeof day = (ms, zone) => new Intl.DateTimeFormat(locale.value, { day: "numeric", month: "short", year: "numeric", timeZone: zone }).format(ms);

/** A page of the core's with its words in the reader's language, to be handed back and written. */
export function reworded(page: Page): Page {
  const line = (one: Told) => ({ ...one, text: said(one, dayOfYear) });
  const lines = (all: Told[]) => all.map(line);
  return {
    title: line(page.title), lines: lines(page.lines), foot: lines(page.foot), facts: lines(page.facts),
    parts: page.parts.map((part) => ({
      ...part, title: line(part.title), lines: lines(part.lines), columns: lines(part.columns), rows: part.rows.map(lines), total: part.total && lines(part.total), none: line(part.none),
    })),
  };
}

const minute = 60_000;
function written(value: ToldValue, dayTold: typeof day): string {
  switch (value.kind) {
    case "text": return value.text;
    case "told": return value.of.map((one) => said(one, dayTold)).join(value.between);
    case "count": return number(value.n);
    case "weight": return weight(value.mg, weights.value);
    case "percent": return percent(value.pct_e4);
    case "volumes": return volumes(value.mvol);
    case "length": return length(value.um, lengths.value);
    case "level": return level(value.tenths);
    case "ratio": return ratio(value.ratio);
    case "time": return value.ms >= minute && value.ms % minute === 0 ? minutes(value.ms) : countdown(value.ms);
    case "instant": return `${dayTold(value.ms, zone.value)} ${clockTime(value.ms, zone.value)}`;
    case "date": return /^\d{4}-\d\d-\d\d$/.test(value.date)
      ? new Intl.DateTimeFormat(locale.value, { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" }).format(Date.parse(`${value.date}T12:00:00Z`))
      : value.date;
    case "money": return value.currency ? money(value.minor, value.currency) : number(value.minor / 100, 2);
  }
}
