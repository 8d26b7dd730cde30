// The salon's own catalogue: what is there, what is left, what to order; taken in and given out as one sheet.
import { useState } from "preact/hooks";
import type { ProductStock, ShelfItem, SheetTaken } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { number, ratio, t, volumes } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Choice, Field, FileButton } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink, HoldButton } from "../ui/press.tsx";
import { handOut } from "../work/files.ts";
import { byName, itemName, last, level } from "../work/said.ts";

const MOST = 60;

/** An amount of a product in its package's unit, from thousandths of it. */
export const amount = (milli: number, unit: ProductStock["unit"]) => `${number(milli / 1000, milli % 1000 === 0 ? 0 : 1)} ${unit ? t(`pack.${unit}`) : ""}`.trim();
export const leftTold = (of: ProductStock | undefined) => (!of || of.left_milli === null ? t("shelf.uncounted") : amount(of.left_milli, of.unit));
export function productTold(item: ShelfItem): string {
  const product = last(item.product);
  if (!product) return t("newer");
  const own = product.kind === "shade" || product.kind === "gloss" ? `${level(product.level_tenths)} ${product.tone}` : product.kind === "developer" ? volumes(product.volumes_mvol) : "";
  return [t(`product.${product.kind}`), own, ...product.ratios.map(ratio)].filter(Boolean).join(" · ");
}

export function Shelf() {
  const live = useLive("shelf", async (station) => ({ shelf: await station.shelf(), stock: await station.stock() }));
  const [words, setWords] = useState("");
  const [show, setShow] = useState<"all" | "low">("all");
  const [importing, setImporting] = useState(false);
  const { busy, error, run } = useAct();
  return (
    <Screen title={t("shelf.title")}>
      <Field label={t("shelf.search")} type="search" value={words} onChange={setWords} />
      <Show live={live}>
        {({ shelf, stock }) => {
          const of = (id: string) => stock.find((one) => one.product === id);
          const low = shelf.items.filter((item) => of(item.id)?.low);
          const asked = words.trim().toLowerCase().split(/\s+/).filter(Boolean);
          const found = byName((show === "low" ? low : shelf.items).filter((item) => asked.every((word) => itemName(item).toLowerCase().includes(word))));
          return (
            <>
              <Choice label={t("shelf.show")} value={show} onChange={setShow} options={[{ value: "all", text: t("shelf.all", { n: shelf.items.length }) }, { value: "low", text: t("shelf.low", { n: low.length }) }]} />
              {found.length === 0 ? <Empty shape="shelf">{shelf.items.length === 0 ? t("shelf.empty") : show === "low" ? t("shelf.none_low") : t("shelf.none_found")}</Empty> : (
                <Rows>{found.slice(0, MOST).map((item) => <Row key={item.id} {...(of(item.id)?.low ? { shape: "warn" as const } : {})} title={itemName(item)} detail={productTold(item)} end={of(item.id)?.left_milli == null ? undefined : leftTold(of(item.id))} href={to("shelf", item.id)} />)}</Rows>
              )}
              {found.length > MOST && <p class="quiet">{t("clients.more", { n: MOST })}</p>}
            </>
          );
        }}
      </Show>
      <Trouble error={error} />
      <ButtonLink href={to("shelf", "new")} look="main" big wide>{t("shelf.new")}</ButtonLink>
      <div class="row-of">
        <Button onPress={() => setImporting(true)}>{t("shelf.import")}</Button>
        <Button busy={busy} onPress={() => void run((station) => station.shelfCsv(), (text) => handOut(`${t("shelf.title")}.csv`, "text/csv", text))}>{t("shelf.export")}</Button>
      </div>
      {importing && <Import onClose={() => setImporting(false)} />}
    </Screen>
  );
}

/** A sheet of products: read whole, every line that cannot be used with what would do, and nothing taken by halves unasked. */
function Import({ onClose }: { onClose: () => void }) {
  const [text, setText] = useState("");
  const [read, setRead] = useState<SheetTaken | undefined>();
  const { busy, error, run } = useAct();
  const take = (sheet: string, goodLines: boolean) => void run((station) => station.importSheet(sheet, goodLines), setRead);
  const open = async (file: File) => { const sheet = await file.text(); setText(sheet); setRead(undefined); take(sheet, false); };
  return (
    <Sheet title={t("shelf.import")} onClose={onClose}>
      <p class="quiet">{t("import.lead")}</p>
      <code class="small columns">line, name, kind, level, tone, strength, ratios, working_life, longest_time, pack, price, stock</code>
      <FileButton look="main" big busy={busy} label={t("import.file")} accept=".csv,.json,text/csv,application/json" onFile={(file) => void open(file)} />
      <Field label={t("import.paste")} value={text} onChange={(next) => { setText(next); setRead(undefined); }} lines={4} />
      {!read && <Button wide busy={busy} disabled={!text.trim()} onPress={() => take(text, false)}>{t("import.read")}</Button>}
      <Trouble error={error} />
      {read?.taken && <Note shape="shelf"><strong>{t("import.taken", { added: read.taken.added, changed: read.taken.changed, same: read.taken.unchanged })}</strong></Note>}
      {read && read.wrong.length > 0 && (
        <>
          {!read.taken && <Note kind="look"><strong>{t("import.nothing")}</strong></Note>}
          <ol class="wrong-lines">{read.wrong.map((one, i) => <li key={i}><strong>{t("import.line", { n: one.line })}{one.column ? ` · ${one.column}` : ""}</strong><span>{told(one.say)}</span></li>)}</ol>
          {!read.taken && read.good > 0 && <HoldButton wide big name={t("import.good", { n: read.good })} onHeld={() => take(text, true)}>{t("hold.to", { what: t("import.good", { n: read.good }) })}</HoldButton>}
        </>
      )}
      {read?.taken && <Button look="main" wide big onPress={onClose}>{t("do.done")}</Button>}
    </Sheet>
  );
}
