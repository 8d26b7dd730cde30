// After the colour: gloss, treatment, cut, styling, what the client takes home, the next visit.
import { useState } from "preact/hooks";
import type { After, Finish, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { lengths, personName, zone } from "../time.ts";
import { clockTime, date, minutes, t } from "../words/index.ts";
import { told as say } from "../words/told.ts";
import { Part, Pick } from "../ui/ask.tsx";
import { Field, Form, Stepper } from "../ui/form.tsx";
import { Empty, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { isClosed, Work } from "../ui/work.tsx";
import { itemName, last, length, listed } from "../work/said.ts";

type Kind = After["kind"];
const blank: { [K in Kind]: Extract<After, { kind: K }> } = {
  cut: { kind: "cut", length_off_um: null, layers: "", technique: "", note: "" },
  styling: { kind: "styling", technique: "", products: "", note: "" },
  product: { kind: "product", product: null, name: "", how: "" },
  home_care: { kind: "home_care", text: "", how: "" },
  next: { kind: "next", from: "", until: "", service: "", why: "" },
};
const told = (one: After): string => {
  switch (one.kind) {
    case "cut": return [one.length_off_um && t("cut.off", { length: length(one.length_off_um, lengths.value) }), one.layers, one.technique, one.note].filter(Boolean).join(" · ");
    case "styling": return [one.technique, one.products, one.note].filter(Boolean).join(" · ");
    case "product": return [one.name, one.how].filter(Boolean).join(" · ");
    case "home_care": return [one.text, one.how].filter(Boolean).join(" · ");
    case "next": return [one.from === one.until ? date(one.from) : t("after.between", { from: date(one.from), until: date(one.until) }), one.service, one.why].filter(Boolean).join(" · ");
  }
};

export function AfterColour({ id }: { id: string }) {
  const live = useLive(`visit ${id}`, (station) => station.visit(id), [id]);
  const [finish, setFinish] = useState<Finish | undefined>();
  const [after, setAfter] = useState<{ entry?: string; said: After } | undefined>();
  const { busy, error, run } = useAct();
  const propose = () => void run((station) => station.proposeNext(id, 15_000), (next) => setAfter({ said: { kind: "next", ...next, why: say(next.why) } }));
  return (
    <Screen title={t("after.title")} back={to("visit", id)}>
      <Show live={live}>
        {(view) => (
          <Work view={view}>
            <Part title={t("finish.title")}><Finishes id={id} view={view} onAdd={setFinish} /></Part>
            <Part title={t("after.rest")}>
              {view.after.length === 0 ? <Empty>{t("after.none")}</Empty> : (
                <Rows>{listed(view.after).map(({ id: entry, value, asks }) => <Row key={entry} {...(asks ? { shape: "asks" as const } : {})} title={t(`after.${value.kind}`)} detail={told(value)} onPress={() => setAfter({ entry, said: value })} />)}</Rows>
              )}
              <Trouble error={error} />
              <div class="choice">
                {(["cut", "styling", "product", "home_care"] as const).map((kind) => <Button key={kind} onPress={() => setAfter({ said: blank[kind] })}>{t(`after.${kind}`)}</Button>)}
              </div>
              <Button look="main" wide big busy={busy} onPress={propose}>{t("after.propose")}</Button>
              {!isClosed(view) && <p class="quiet small">{t("after.propose.how", { length: length(15_000, lengths.value) })}</p>}
            </Part>
            {finish && <EditFinish id={id} said={finish} onClose={() => setFinish(undefined)} />}
            {after && <EditAfter id={id} {...after} onClose={() => setAfter(undefined)} />}
          </Work>
        )}
      </Show>
    </Screen>
  );
}

function Finishes({ id, view, onAdd }: { id: string; view: VisitView; onAdd: (said: Finish) => void }) {
  const { error, run } = useAct();
  return (
    <>
      <Rows>
        {listed(view.finishes).map(({ id: entry, value, item }) => { const by = item.said.versions.at(-1)!; return <Row key={entry} title={`${t(`finish.${value.kind}`)}: ${value.product}`} end={<Button look="quiet" onPress={() => void run((station) => station.removeFinish(id, entry, ""))}>{t("do.remove")}</Button>} detail={[value.length_ms && minutes(value.length_ms), value.note, `${personName(by.by)} ${clockTime(by.at.ms, zone.value)}`].filter(Boolean).join(" · ")} />; })}
        <Row shape="plus" title={t("finish.gloss.add")} onPress={() => onAdd({ kind: "gloss", product: "", bowl: null, length_ms: 10 * 60_000, note: "" })} />
        <Row shape="plus" title={t("finish.treatment.add")} onPress={() => onAdd({ kind: "treatment", product: "", bowl: null, length_ms: 10 * 60_000, note: "" })} />
      </Rows>
      <Trouble error={error} />
    </>
  );
}

function EditFinish({ id, said, onClose }: { id: string; said: Finish; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const shelf = useLive("shelf", (station) => station.shelf(), ["shelf"]);
  const { busy, error, run } = useAct();
  const here = shelf.state === "here" ? shelf.value.items.filter((item) => { const kind = last(item.product)?.kind; return now.kind === "gloss" ? kind === "gloss" || kind === "clear" : kind === "treatment"; }).slice(0, 8) : [];
  return (
    <Sheet title={t(`finish.${now.kind}`)} onClose={onClose}>
      <Form onSubmit={() => void run((station) => station.finish(id, now), onClose)}>
        <Pick label={t("finish.product")} value={now.product} onChange={(product) => setNow({ ...now, product })} options={here.map((item) => ({ value: itemName(item), text: itemName(item) }))} />
        <Stepper label={t("finish.time")} value={now.length_ms ?? 0} step={60_000} max={120 * 60_000} show={(ms) => (ms ? minutes(ms) : t("finish.no_timer"))} onChange={(ms) => setNow({ ...now, length_ms: ms || null })} />
        <Field label={t("field.note")} value={now.note} onChange={(note) => setNow({ ...now, note })} />
        <Trouble error={error} />
        <Button look="main" wide submit class="glove-high" busy={busy} disabled={!now.product.trim()}>{t("finish.on")}</Button>
      </Form>
    </Sheet>
  );
}

function EditAfter({ id, entry, said, onClose }: { id: string; entry?: string; said: After; onClose: () => void }) {
  const [now, setNow] = useState<After>(said);
  const { busy, error, run } = useAct();
  const text = (label: string, name: string, lines?: number) => <Field label={label} value={String((now as unknown as Record<string, unknown>)[name] ?? "")} onChange={(value) => setNow({ ...now, [name]: value } as After)} {...(lines ? { lines } : {})} />;
  const step = lengths.value === "inches" ? 12_700 : 5_000;
  return (
    <Sheet title={t(`after.${now.kind}`)} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeAfter(id, entry, now); else await station.addAfter(id, now); }, onClose)}>
        {now.kind === "cut" && <>
          <Stepper label={t("cut.length")} value={now.length_off_um ?? 0} step={step} show={(um) => (um ? length(um, lengths.value) : t("not.said"))} onChange={(um) => setNow({ ...now, length_off_um: um || null })} />
          {text(t("cut.layers"), "layers")}{text(t("cut.technique"), "technique")}{text(t("field.note"), "note")}
        </>}
        {now.kind === "styling" && <>{text(t("cut.technique"), "technique")}{text(t("styling.products"), "products")}{text(t("field.note"), "note")}</>}
        {now.kind === "product" && <>{text(t("finish.product"), "name")}{text(t("after.how"), "how")}</>}
        {now.kind === "home_care" && <>{text(t("after.advice"), "text", 2)}{text(t("after.how"), "how")}</>}
        {now.kind === "next" && <>
          <Field label={t("after.from")} type="date" value={now.from} onChange={(from) => setNow({ ...now, from })} />
          <Field label={t("after.until")} type="date" value={now.until} onChange={(until) => setNow({ ...now, until })} />
          {text(t("visit.service"), "service")}{text(t("why.label"), "why", 2)}
        </>}
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => void run((station) => station.removeAfter(id, entry, ""), onClose)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
