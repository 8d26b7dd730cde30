// Every word that the app says, one catalogue per language. A key that a language lacks, or a value that a sentence
// needs and is not given, does not compile. What the core says is in `told.ts` and `core.json`.
import { computed, signal } from "@preact/signals";
import { en } from "./en/index.ts";
import { es } from "./es/index.ts";

/** A sentence that changes with a number `n`, by the categories of `Intl.PluralRules`. */
export type Plural = { readonly one: string; readonly other: string };
/** What a language has to say: the keys of English, each a sentence or a sentence by number. */
export type Catalogue = { readonly [K in Key]: (typeof en)[K] extends string ? string : Plural };
export type Key = keyof typeof en;

type Names<S> = S extends `${string}{${infer N}}${infer Rest}` ? N | Names<Rest> : never;
type Text<K extends Key> = (typeof en)[K] extends { other: infer O } ? O : (typeof en)[K];
type Values<K extends Key> = { [N in Names<Text<K>>]: string | number };
type Args<K extends Key> = [Names<Text<K>>] extends [never] ? [] : [values: Values<K>];

/** Keys of sentences that need no value. */
export type PlainKey = { [K in Key]: [Names<Text<K>>] extends [never] ? K : never }[Key];

const catalogues = { en, es } satisfies Record<string, Catalogue>;
export type Language = keyof typeof catalogues;
export const languages: { code: Language; name: string }[] = [
  { code: "en", name: "English" },
  { code: "es", name: "Español" },
];

const known = (code: string | null): code is Language => code !== null && code in catalogues;
const first = (): Language => {
  const kept = localStorage.getItem("language");
  if (known(kept)) return kept;
  return navigator.languages.map((tag) => tag.slice(0, 2)).find(known) ?? "en";
};

export const language = signal<Language>(first());
/** The locale for dates and numbers: the browser's own where it speaks the chosen language. */
export const locale = computed(() => navigator.languages.find((tag) => tag.startsWith(language.value)) ?? language.value);
const plurals = computed(() => new Intl.PluralRules(locale.value));
/** Which form a number takes. */
export const plural = (n: number): keyof Plural => (plurals.value.select(n) === "one" ? "one" : "other");

/** Says a sentence. Read inside a component it follows the chosen language. */
export function t<K extends Key>(key: K, ...[values]: Args<K>): string {
  const said: string | Plural = (catalogues[language.value] as Catalogue)[key];
  const given = (values ?? {}) as Record<string, string | number>;
  const text = typeof said === "string" ? said : said[plural(Number(given["n"]))];
  return text.replace(/\{(\w+)\}/g, (_, name: string) => {
    const value = given[name];
    return typeof value === "number" ? number(value) : (value ?? "");
  });
}

export const number = (value: number, digits = 0) =>
  new Intl.NumberFormat(locale.value, { maximumFractionDigits: digits, minimumFractionDigits: digits }).format(value);

const formats = new Map<string, Intl.DateTimeFormat>();
/** Each form is made once: that takes a hundred times as long as using it, and a floor may show hundreds of instants. */
function written(ms: number, form: Intl.DateTimeFormatOptions): string {
  const key = JSON.stringify([locale.value, form]);
  let format = formats.get(key);
  if (!format) formats.set(key, format = new Intl.DateTimeFormat(locale.value, form));
  return format.format(ms);
}
/** An instant as the salon's clock on the wall shows it. */
export const clockTime = (ms: number, zone: string) => written(ms, { hour: "2-digit", minute: "2-digit", timeZone: zone });
/** A day, from an instant. */
export const day = (ms: number, zone: string) => written(ms, { weekday: "short", day: "numeric", month: "short", timeZone: zone });
/** A day with its year, from an instant. */
export const dayAndYear = (ms: number, zone: string) =>
  written(ms, { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: zone });
/** A calendar date `yyyy-mm-dd`. */
export const date = (text: string) => written(Date.parse(`${text}T12:00:00Z`), { weekday: "long", day: "numeric", month: "long", timeZone: "UTC" });

/** One avoirdupois ounce, exactly (international yard and pound agreement, 1959). */
export const OUNCE_MG = 28_349.523125;
/** Grams or ounces, from milligrams; to 0.1 g, as the scale shows. */
export const weight = (mg: number, unit: "grams" | "ounces" = "grams") =>
  unit === "grams" ? `${number(mg / 1000, 1)} g` : `${number(mg / OUNCE_MG, 2)} oz`;
/** Per cent, from ten-thousandths of one per cent. */
export const percent = (e4: number) => `${number(e4 / 10_000, e4 % 10_000 === 0 ? 0 : 1)} %`;
/** Volumes, from thousandths. */
export const volumes = (mvol: number) => t("unit.volumes", { strength: number(mvol / 1000, mvol % 1000 === 0 ? 0 : 1) });
/** Product to developer, "1:1.5", as the reader writes numbers. */
export const ratio = (text: string) => text.replace(/\d+(?:\.(\d+))?/g, (n, decimals: string = "") => number(Number(n), decimals.length));
/** Whole minutes as words: "35 min", "1 h 05 min". */
export function minutes(ms: number): string {
  const all = Math.round(ms / 60_000);
  if (all < 60) return t("unit.minutes", { n: all });
  return t("unit.hours", { hours: Math.floor(all / 60), minutes: String(all % 60).padStart(2, "0") });
}
/** What is left, as a clock counts down: "12:05"; from 100 minutes on "2 h 05". Never shows more than there is. */
export function countdown(ms: number): string {
  const seconds = Math.ceil(Math.abs(ms) / 1000);
  const text = seconds < 6000
    ? `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`
    : `${Math.floor(seconds / 3600)} h ${String(Math.floor(seconds / 60) % 60).padStart(2, "0")}`;
  return ms < 0 && seconds > 0 ? `+${text}` : text;
}
