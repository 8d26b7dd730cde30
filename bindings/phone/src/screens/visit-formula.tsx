// One formula, noted or said anew. Products are picked from the shelf, amounts are stepped, nothing is worked out here.
import { useState } from "preact/hooks";
import type { Formula, Line, LineRole, NewLine, ShelfItem, ShelfView, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { minutes, ratio, t, volumes } from "../words/index.ts";
import { Pick } from "../ui/ask.tsx";
import { Choice, Field, Form, Stepper } from "../ui/form.tsx";
import { Empty, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { byName, developers, itemName, last } from "../work/said.ts";
import { ShareStepper } from "./visit-formulas.tsx";

export function EditFormula({ id, formula }: { id: string; formula?: string }) {
  const live = useLive(`formula ${id}`, async (station) => ({ view: await station.visit(id), shelf: await station.shelf() }), [id, "shelf"]);
  return (
    <Screen title={formula ? t("formula.change") : t("formula.new")} back={to("visit", id, "formulas")}>
      <Show live={live}>{({ view, shelf }) => <Editor id={id} view={view} shelf={shelf} {...(formula ? { entry: formula } : {})} />}</Show>
    </Screen>
  );
}

type Added = NewLine & { key: number };
const roles: readonly LineRole[] = ["shade", "clear", "lightener", "additive", "treatment"];
const usualTitles = ["regrowth", "lightener", "lengths", "gloss", "lowlights"] as const;
const usualRatios = ["1:1", "1:1.5", "1:2", "1:3"];
const FIVE = 5 * 60_000;

function Editor({ id, view, shelf, entry }: { id: string; view: VisitView; shelf: ShelfView; entry?: string }) {
  const before = view.formulas.find((one) => one.formula.id === entry);
  const [said, setSaid] = useState<Formula>(() => (before && last(before.formula.said)) ?? { title: "", ratio: null, developer_mvol: null, longest_ms: null, working_life_ms: null, note: "" });
  const [lines, setLines] = useState<Added[]>([]);
  const [picking, setPicking] = useState(false);
  const { busy, error, run } = useAct();
  const set = (part: Partial<Formula>) => setSaid({ ...said, ...part });
  const ids = [...lines.map((one) => one.product), ...(before?.lines.map((one) => last(one.said)?.product) ?? [])].filter(Boolean);
  const allowed = [...new Set(shelf.items.filter((item) => ids.includes(item.id)).flatMap((item) => last(item.product)?.ratios ?? []))];
  const ratios = allowed.length > 0 ? allowed : usualRatios;
  const save = () => void run(async (station) => {
    const added = lines.map(({ key: _, ...line }) => line);
    if (!entry) return station.noteFormula(id, said, added);
    const noted = await station.changeFormula(id, entry, said);
    return added.length ? station.addLines(id, entry, added) : noted;
  }, () => go("visit", id, "formulas"));
  return (
    <Form onSubmit={save}>
      <Pick label={t("formula.title")} value={said.title} onChange={(title) => set({ title })} options={usualTitles.map((one) => ({ value: t(`formula.title.${one}`), text: t(`formula.title.${one}`) }))} />
      <div class="stack near">
        <h2>{entry ? t("formula.more_lines") : t("formula.lines")}</h2>
        {lines.map((line) => (
          <div class="card" key={line.key}>
            <div class="part-head"><strong>{line.name || t(`role_of.${line.role ?? "shade"}`)}</strong><Button look="quiet" onPress={() => setLines(lines.filter((one) => one !== line))}>{t("do.remove")}</Button></div>
            <Choice label={t("line.by")} value={"mg" in line.share ? "grams" : "parts"} onChange={(by) => setLines(lines.map((one) => (one === line ? { ...line, share: by === "grams" ? { mg: 30_000 } : { milliparts: 1000 } } : one)))} options={[{ value: "grams", text: t("line.grams") }, { value: "parts", text: t("line.parts") }]} />
            <ShareStepper label={t("line.share")} share={line.share} onChange={(share) => setLines(lines.map((one) => (one === line ? { ...line, share } : one)))} />
          </div>
        ))}
        <Button wide big onPress={() => setPicking(true)}>{t("formula.add_line")}</Button>
      </div>
      <Pick label={t("formula.ratio")} hint={t("formula.ratio.hint")} value={said.ratio ?? ""} onChange={(ratio) => set({ ratio: ratio.trim() || null })} options={ratios.map((one) => ({ value: one, text: ratio(one) }))} />
      <Choice label={t("formula.developer")} value={said.developer_mvol ? String(said.developer_mvol) : undefined} onChange={(value) => set({ developer_mvol: Number(value) })} options={developers(shelf.items).map((one) => ({ value: String(one), text: volumes(one) }))} />
      {developers(shelf.items).length === 0 && <p class="quiet small">{t("formula.no_developer")} <a href={to("shelf")}>{t("shelf.title")}</a></p>}
      <Stepper label={t("formula.longest")} value={said.longest_ms ?? 0} step={FIVE} max={24 * FIVE} show={(ms) => (ms ? minutes(ms) : t("formula.by_shelf"))} onChange={(ms) => set({ longest_ms: ms || null })} />
      <Stepper label={t("formula.life")} value={said.working_life_ms ?? 0} step={FIVE} max={24 * FIVE} show={(ms) => (ms ? minutes(ms) : t("formula.by_shelf"))} onChange={(ms) => set({ working_life_ms: ms || null })} />
      <Field label={t("field.note")} value={said.note} onChange={(note) => set({ note })} />
      <Trouble error={error} />
      <Button look="main" big wide submit busy={busy} disabled={!said.title.trim() || (!entry && lines.length === 0)}>{t("do.save")}</Button>
      {picking && <PickProduct shelf={shelf} onClose={() => setPicking(false)} onPick={(line) => { setLines([...lines, { ...line, key: Date.now() }]); setPicking(false); }} />}
    </Form>
  );
}

function PickProduct({ shelf, onPick, onClose }: { shelf: ShelfView; onPick: (line: NewLine) => void; onClose: () => void }) {
  const [words, setWords] = useState("");
  const [role, setRole] = useState<LineRole>("shade");
  const share: Line["share"] = { mg: 30_000 };
  const asked = words.trim().toLowerCase().split(/\s+/).filter(Boolean);
  const fits = (item: ShelfItem) => asked.every((word) => itemName(item).toLowerCase().includes(word));
  const found = byName(shelf.items.filter((item) => last(item.stock) !== "discontinued" && fits(item)));
  return (
    <Sheet title={t("formula.add_line")} onClose={onClose}>
      <Field label={t("shelf.search")} type="search" value={words} onChange={setWords} />
      {found.length > 0 ? (
        <Rows>{found.slice(0, 40).map((item) => <Row key={item.id} title={itemName(item)} detail={t(`product.${last(item.product)?.kind ?? "shade"}`)} onPress={() => onPick({ product: item.id, role: null, name: itemName(item), share, strength: null })} />)}</Rows>
      ) : <Empty shape="shelf">{t("shelf.none_found")}</Empty>}
      {words.trim() && (
        <div class="card">
          <Choice label={t("formula.not_on_shelf", { name: words.trim() })} value={role} onChange={setRole} options={roles.map((one) => ({ value: one, text: t(`role_of.${one}`) }))} />
          <Button wide onPress={() => onPick({ product: null, role, name: words.trim(), share, strength: null })}>{t("formula.add_unlisted")}</Button>
        </div>
      )}
    </Sheet>
  );
}
