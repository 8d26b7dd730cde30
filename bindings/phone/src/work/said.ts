// Reading what the core says of a card or a visit, for screens. What is contested shows its last word here and its sides
// on the settle screen.
import type { Area, ClientView, Item, MapSection, Product, Register, ShelfItem, Volumes } from "@tailcomb/web/types";
import { locale, number, t } from "../words/index.ts";

/** The last word on something. */
export const last = <T>(register: Register<T> | undefined): T | undefined => register?.versions.at(-1)?.value;
/** The last words of items, with their names. */
export const listed = <T>(items: readonly Item<T>[]) =>
  items.flatMap((item) => { const value = last(item.said); return value === undefined ? [] : [{ id: item.id, value, item, asks: contested(item) }]; });
/** Whether people must pick between what is said. */
export const contested = (item: Item<unknown>) => item.said.versions.length > 1 || item.removed.length > 0;

/** A plain field of a card, as text; empty when nobody said. */
export const field = (card: ClientView, name: string): string => {
  const value = card.fields[name]?.at(-1)?.value;
  return value === undefined || value === null ? "" : String(value);
};
export const fieldNumber = (card: ClientView, name: string): number | undefined => {
  const text = field(card, name);
  return text === "" || !Number.isFinite(Number(text)) ? undefined : Number(text);
};

/** "7.5", from tenths. */
export const level = (tenths: number) => number(tenths / 10, tenths % 10 === 0 ? 0 : 1);

/** The trade's three zones. The core takes them by their numbers and keeps them by these names. */
export const zones = [
  { number: "1", name: "near the scalp", key: "zone.scalp" },
  { number: "2", name: "mid-lengths", key: "zone.lengths" },
  { number: "3", name: "ends", key: "zone.ends" },
] as const;
/** A zone in the reader's language; one of the salon's own stays as it was said. */
export const zoneName = (zone: string) => {
  const known = zones.find((one) => one.name === zone || one.number === zone);
  return known ? t(known.key) : zone;
};

export const areaName = (area: Area) => `${t(`part.${area.part}`)}${area.side === "both" ? "" : ` ${t(`side.${area.side}`)}`}`;
/** Where a section lies, in the reader's language where the map knows the place. */
export const placeOf = (section: MapSection) => (section.on_head ? areaName(section.on_head) : section.area);

export const productName = (product: Product | undefined) => (product ? `${product.line} ${product.name}`.trim() : "?");
export const itemName = (item: ShelfItem) => productName(last(item.product));
/** By name, "beige 7" before "beige 10". */
export const byName = (items: readonly ShelfItem[]) => {
  const order = new Intl.Collator(locale.value, { numeric: true });
  return [...items].sort((a, b) => order.compare(itemName(a), itemName(b)));
};
/** The developers on the shelf, by strength, weakest first. */
export const developers = (items: readonly ShelfItem[]): Volumes[] => {
  const all = items.flatMap((item) => { const product = last(item.product); return product?.kind === "developer" ? [product.volumes_mvol] : []; });
  return [...new Set(all)].sort((a, b) => a - b);
};

/** Centimetres or inches, from micrometres. One inch is 25.4 mm exactly. */
export const length = (um: number, unit: "centimetres" | "inches") =>
  unit === "inches" ? `${number(um / 25_400, 1)} in` : `${number(um / 10_000, 1)} cm`;
/** Money, from minor units, as the currency writes it. */
export const money = (minor: number, currency: string) => {
  const format = new Intl.NumberFormat(locale.value, { style: "currency", currency });
  return format.format(minor / 10 ** (format.resolvedOptions().maximumFractionDigits ?? 2));
};
