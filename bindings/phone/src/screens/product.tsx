// One product: what it is by its label, what a package costs, what is left, and counting it.
import { useState } from "preact/hooks";
import type { PackUnit, Price, Product, ProductStock, Ratio, StockLevel } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to, turn } from "../route.ts";
import { zone } from "../time.ts";
import { day, minutes, number, ratio, t, volumes } from "../words/index.ts";
import { Part, Pick } from "../ui/ask.tsx";
import { Choice, Field, Form, NumberPad, Stepper, thousandths } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { itemName, last, level, money } from "../work/said.ts";
import { amount, leftTold, productTold } from "./shelf.tsx";

type Kind = Product["kind"];
const kinds: readonly Kind[] = ["shade", "gloss", "developer", "lightener", "clear", "additive", "treatment"];
const levels: readonly StockLevel[] = ["in_stock", "low", "out", "discontinued"];
const units: readonly PackUnit[] = ["gram", "millilitre", "piece"];
const FIVE = 5 * 60_000;

const currencyHere = () => { try { return localStorage.getItem("currency") ?? "EUR"; } catch { return "EUR"; } };

export function ProductScreen({ id }: { id: string }) {
  const live = useLive(`product ${id}`, async (station) => ({ item: (await station.shelf()).items.find((one) => one.id === id), stock: (await station.stock()).find((one) => one.product === id), prices: await station.priceHistory(id) }));
  const [sheet, setSheet] = useState<"count" | "deliver" | "price" | "change" | "below" | undefined>();
  const close = () => setSheet(undefined);
  const { error, run } = useAct();
  return (
    <Show live={live} within={{ title: t("shelf.title"), back: to("shelf") }}>
      {({ item, stock, prices }) => {
        if (!item) return <Screen title={t("shelf.title")} back={to("shelf")}><Empty shape="shelf">{t("shelf.none_found")}</Empty></Screen>;
        const product = last(item.product), price = last(item.price);
        return (
          <Screen title={itemName(item)} back={to("shelf")}>
            <p>{productTold(item)}</p>
            {product && <p class="quiet">{[product.working_life_ms && t("formula.life_is", { time: minutes(product.working_life_ms) }), product.longest_processing_ms && t("formula.longest_is", { time: minutes(product.longest_processing_ms) })].filter(Boolean).join(" · ")}</p>}
            {item.product.versions.length > 1 && <Note kind="look" shape="asks"><a href={to("settle", "shelf")}>{t("asks.differ")}</a></Note>}
            <section class={stock?.low ? "card verdict" : "card verdict clear"}>
              <div><span class="quiet small">{t("shelf.left")}</span><p class="figure">{leftTold(stock)}</p>{stock?.low && <strong>{t("shelf.order")}</strong>}</div>
            </section>
            {stock && <p class="quiet small">{[stock.counted_at_ms && t("shelf.counted", { when: day(stock.counted_at_ms, zone.value) }), stock.delivered_milli > 0 && t("shelf.delivered", { amount: amount(stock.delivered_milli, stock.unit) }), stock.used_milli > 0 && t("shelf.used", { amount: amount(stock.used_milli, stock.unit) })].filter(Boolean).join(" · ")}</p>}
            <div class="choice"><Button big onPress={() => setSheet("count")}>{t("shelf.count")}</Button><Button big onPress={() => setSheet("deliver")}>{t("shelf.deliver")}</Button></div>
            <Choice label={t("shelf.stock")} value={last(item.stock)} onChange={(level) => void run((station) => station.setStock(id, level))} options={levels.map((one) => ({ value: one, text: t(`stock.${one}`) }))} />
            <Trouble error={error} />
            <Rows>
              <Row title={t("shelf.price")} detail={price ? `${money(price.price_minor, price.currency)} · ${amount(price.pack_milli, price.unit)}` : t("not.said")} onPress={() => setSheet("price")} />
              <Row title={t("shelf.below")} detail={stock?.order_below_milli ? amount(stock.order_below_milli, stock.unit) : t("not.said")} onPress={() => setSheet("below")} />
              <Row title={t("shelf.change")} onPress={() => setSheet("change")} />
            </Rows>
            {prices.length > 1 && <Part title={t("shelf.prices")}><Rows>{[...prices].reverse().map((one) => <Row key={one.rev} title={money(one.value.price_minor, one.value.currency)} detail={day(one.at.ms, zone.value)} />)}</Rows></Part>}
            {sheet === "count" && <Count id={id} stock={stock} onClose={close} />}
            {sheet === "deliver" && <Deliver id={id} onClose={close} />}
            {sheet === "price" && <PriceSheet id={id} price={price} onClose={close} />}
            {sheet === "below" && <Below id={id} stock={stock} onClose={close} />}
            {sheet === "change" && product && <Sheet title={t("shelf.change")} onClose={close}><Editor said={product} onSave={(next) => void run((station) => station.changeProduct(id, next), close)} /></Sheet>}
          </Screen>
        );
      }}
    </Show>
  );
}

export function NewProduct() {
  const { busy, error, run } = useAct();
  return (
    <Screen title={t("shelf.new")} back={to("shelf")}>
      <Editor said={{ kind: "shade", line: "", name: "", ratios: [], level_tenths: 70, tone: "", working_life_ms: null, longest_processing_ms: null }} busy={busy} onSave={(product) => void run((station) => station.addProduct(product, null), (id) => turn("shelf", id))} />
      <Trouble error={error} />
    </Screen>
  );
}

const common = (of: Product) => ({ line: of.line, name: of.name, ratios: of.ratios, working_life_ms: of.working_life_ms ?? null, longest_processing_ms: of.longest_processing_ms ?? null });
/** The same product as another kind, with what that kind needs. */
const as = (kind: Kind, of: Product): Product =>
  kind === "shade" || kind === "gloss" ? { ...common(of), kind, level_tenths: 70, tone: "" } : kind === "developer" ? { ...common(of), kind, volumes_mvol: 20_000 } : { ...common(of), kind };

/** Ratios between semicolons or commas; in "1:1,5" the comma is a decimal's. */
const several = (text: string): Ratio[] => text.split(/;|,(?=\s*\d+\s*:)/).map((one) => one.trim()).filter(Boolean);

function Editor({ said, busy, onSave }: { said: Product; busy?: boolean; onSave: (product: Product) => void }) {
  const [now, setNow] = useState(said);
  // As it is typed, or what ends in a separator could not be.
  const [allowed, setAllowed] = useState(said.ratios.join("; "));
  const set = (part: Partial<ReturnType<typeof common>>) => setNow({ ...now, ...part } as Product);
  const ratios: Ratio[] = ["1:1", "1:1.5", "1:2", "1:3"];
  return (
    <Form onSubmit={() => onSave(now)}>
      <Choice label={t("product.kind")} value={now.kind} onChange={(kind) => setNow(as(kind, now))} options={kinds.map((kind) => ({ value: kind, text: t(`product.${kind}`) }))} />
      <Field label={t("product.line")} value={now.line} onChange={(line) => set({ line })} required />
      <Field label={t("product.name")} value={now.name} onChange={(name) => set({ name })} required />
      {(now.kind === "shade" || now.kind === "gloss") && <>
        <Stepper label={t("plan.level")} value={now.level_tenths} step={5} min={10} max={120} show={level} onChange={(level_tenths) => setNow({ ...now, level_tenths })} />
        <Field label={t("plan.tone")} value={now.tone} onChange={(tone) => setNow({ ...now, tone })} />
      </>}
      {now.kind === "developer" && <Stepper label={t("formula.developer")} value={now.volumes_mvol} step={1_000} min={1_000} max={60_000} show={volumes} onChange={(volumes_mvol) => setNow({ ...now, volumes_mvol })} />}
      {now.kind !== "developer" && <Pick label={t("formula.ratio")} value={allowed} onChange={(text) => { setAllowed(text); set({ ratios: several(text) }); }} options={ratios.map((one) => ({ value: one, text: ratio(one) }))} />}
      <Stepper label={t("formula.longest")} value={now.longest_processing_ms ?? 0} step={FIVE} max={24 * FIVE} show={(ms) => (ms ? minutes(ms) : t("not.said"))} onChange={(ms) => set({ longest_processing_ms: ms || null })} />
      <Stepper label={t("formula.life")} value={now.working_life_ms ?? 0} step={FIVE} max={24 * FIVE} show={(ms) => (ms ? minutes(ms) : t("not.said"))} onChange={(ms) => set({ working_life_ms: ms || null })} />
      <Note shape="warn">{t("product.label")}</Note>
      <Button look="main" big wide submit busy={busy} disabled={!now.name.trim()}>{t("do.save")}</Button>
    </Form>
  );
}

function Count({ id, stock, onClose }: { id: string; stock: ProductStock | undefined; onClose: () => void }) {
  const [packs, setPacks] = useState(stock?.full_packs ?? 0);
  const [open, setOpen] = useState("");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("shelf.count")} onClose={onClose}>
      <Stepper label={t("shelf.packs")} value={packs} step={1} show={(n) => number(n)} onChange={setPacks} />
      <NumberPad label={t("shelf.in_open")} value={open} unit={stock?.unit ? t(`pack.${stock.unit}`) : ""} decimals={1} onChange={setOpen} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} onPress={() => void run((station) => station.countStock(id, { full_packs: packs, open_milli: thousandths(open) ?? 0 }), onClose)}>{t("do.save")}</Button>
    </Sheet>
  );
}

function Deliver({ id, onClose }: { id: string; onClose: () => void }) {
  const [packs, setPacks] = useState(1);
  const [note, setNote] = useState("");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("shelf.deliver")} onClose={onClose}>
      <Stepper label={t("shelf.packs")} value={packs} step={1} min={1} show={(n) => number(n)} onChange={setPacks} />
      <Field label={t("shelf.slip")} value={note} onChange={setNote} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} onPress={() => void run((station) => station.deliver({ product: id, packs, note: note.trim() }), onClose)}>{t("do.save")}</Button>
    </Sheet>
  );
}

function Below({ id, stock, onClose }: { id: string; stock: ProductStock | undefined; onClose: () => void }) {
  const [text, setText] = useState("");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("shelf.below")} onClose={onClose}>
      <NumberPad label={t("shelf.below")} value={text} unit={stock?.unit ? t(`pack.${stock.unit}`) : ""} decimals={1} onChange={setText} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} disabled={thousandths(text) === undefined} onPress={() => void run((station) => station.setOrderBelow(id, thousandths(text) ?? 0), onClose)}>{t("do.save")}</Button>
    </Sheet>
  );
}

function PriceSheet({ id, price, onClose }: { id: string; price: Price | undefined; onClose: () => void }) {
  const [cost, setCost] = useState("");
  const [size, setSize] = useState(price ? String(price.pack_milli / 1000) : "");
  const [unit, setUnit] = useState<PackUnit>(price?.unit ?? "gram");
  const [currency, setCurrency] = useState(price?.currency ?? currencyHere());
  const { busy, error, run } = useAct();
  const digits = (() => { try { return new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits ?? 2; } catch { return undefined; } })();
  const save = () => {
    localStorage.setItem("currency", currency);
    void run((station) => station.setPrice(id, { price_minor: Math.round(Number(cost) * 10 ** (digits ?? 2)), currency, pack_milli: thousandths(size) ?? 0, unit }), onClose);
  };
  return (
    <Sheet title={t("shelf.price")} onClose={onClose}>
      <Field label={t("shelf.currency")} value={currency} onChange={(text) => setCurrency(text.toUpperCase())} wrong={digits === undefined ? t("shelf.currency.wrong") : undefined} />
      <NumberPad label={t("shelf.pack_price")} value={cost} unit={currency} decimals={digits ?? 2} onChange={setCost} />
      <Choice label={t("shelf.unit")} value={unit} onChange={setUnit} options={units.map((one) => ({ value: one, text: t(`pack.${one}`) }))} />
      <NumberPad label={t("shelf.pack_size")} value={size} unit={t(`pack.${unit}`)} onChange={setSize} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} disabled={!cost || !size || digits === undefined} onPress={save}>{t("do.save")}</Button>
    </Sheet>
  );
}
