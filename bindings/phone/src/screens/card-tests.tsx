// Alert tests: put on, waited for 48 hours, read. Nothing here tells anybody that a product cannot hurt.
import { useState } from "preact/hooks";
import type { AlertResult, AlertTest } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { now, personName, zone } from "../time.ts";
import { clockTime, day, minutes, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Pick, Reason } from "../ui/ask.tsx";
import { Field, Form } from "../ui/form.tsx";
import { Empty, Note, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { itemName, last } from "../work/said.ts";

const results: readonly AlertResult[] = ["nothing_seen", "doubtful", "reaction"];
const when = (ms: number) => `${day(ms, zone.value)} ${clockTime(ms, zone.value)}`;

export function CardTests({ id }: { id: string }) {
  const live = useLive(`tests ${id}`, async (station) => ({ card: await station.client(id), verdict: await station.alertVerdict(id) }));
  const [sheet, setSheet] = useState<{ what: "apply" } | { what: "read" | "void"; test: AlertTest } | undefined>();
  return (
    <Screen title={t("test.title")} back={to("client", id)}>
      <Show live={live}>
        {({ card, verdict }) => (
          <>
            <Note kind={verdict.standing.standing === "nothing_seen" ? "plain" : "look"}><span>{told(verdict.text)}</span></Note>
            {card.alert_tests.length === 0 ? <Empty shape="look">{t("test.none")}</Empty> : [...card.alert_tests].reverse().map((test) => <Test key={test.id} test={test} onRead={() => setSheet({ what: "read", test })} onVoid={() => setSheet({ what: "void", test })} />)}
            <Button look="main" big wide onPress={() => setSheet({ what: "apply" })}>{t("test.apply")}</Button>
          </>
        )}
      </Show>
      {sheet?.what === "apply" && <Apply client={id} onClose={() => setSheet(undefined)} />}
      {sheet?.what === "read" && <Read client={id} test={sheet.test} onClose={() => setSheet(undefined)} />}
      {sheet?.what === "void" && <Void client={id} test={sheet.test} onClose={() => setSheet(undefined)} />}
    </Screen>
  );
}

function Test({ test, onRead, onVoid }: { test: AlertTest; onRead: () => void; onVoid: () => void }) {
  const applied = test.applied.at(-1), left = test.readable_at_ms - now.value;
  const open = test.readings.length === 0 && test.voided.length === 0;
  return (
    <article class="card">
      <h2>{applied ? `${applied.value.product} · ${applied.value.site}` : t("newer")}</h2>
      {applied && <p class="quiet small">{t("test.on", { when: when(applied.value.applied_at_ms), who: personName(applied.by) })}</p>}
      {test.readings.map((one) => (
        <Note key={one.rev} kind={one.value.result === "nothing_seen" ? "plain" : "off"} shape={one.value.result === "nothing_seen" ? "look" : "off"}>
          <strong>{t(`test.result.${one.value.result}`)}{one.value.early ? ` · ${t("test.early")}` : ""}</strong>
          <span class="small">{[one.value.note, when(one.at.ms), personName(one.by)].filter(Boolean).join(" · ")}</span>
        </Note>
      ))}
      {test.voided.map((one) => <p key={one.rev} class="row-of"><Shape of="close" /><span>{t("test.voided", { why: one.why, who: personName(one.by) })}</span></p>)}
      {open && <p class="figure">{left > 0 ? t("test.wait", { time: minutes(left) }) : t("test.due")}</p>}
      {open && <p class="quiet small">{t("test.from", { when: when(test.readable_at_ms) })}</p>}
      <div class="row-of">
        <Button look={open && left <= 0 ? "main" : "plain"} onPress={onRead}>{t("test.read")}</Button>
        {test.voided.length === 0 && <Button look="quiet" onPress={onVoid}>{t("test.void")}</Button>}
      </div>
    </article>
  );
}

function Apply({ client, onClose }: { client: string; onClose: () => void }) {
  const [product, setProduct] = useState("");
  const [site, setSite] = useState("");
  const shelf = useLive("shelf", (station) => station.shelf(), ["shelf"]);
  const { busy, error, run } = useAct();
  const colours = shelf.state === "here" ? [...new Set(shelf.value.items.filter((item) => ["shade", "gloss"].includes(last(item.product)?.kind ?? "")).map((item) => last(item.product)?.line || itemName(item)))].slice(0, 6) : [];
  return (
    <Sheet title={t("test.apply")} onClose={onClose}>
      <Form onSubmit={() => void run((station) => station.applyAlertTest(client, product.trim(), site.trim()), onClose)}>
        <Pick label={t("test.product")} hint={t("test.product.hint")} value={product} onChange={setProduct} options={colours.map((one) => ({ value: one, text: one }))} />
        <Pick label={t("test.site")} value={site} onChange={setSite} options={(["ear", "arm"] as const).map((one) => ({ value: t(`site.${one}`), text: t(`site.${one}`) }))} />
        <Note kind="look">{t("test.label")}</Note>
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!product.trim() || !site.trim()}>{t("test.start")}</Button>
      </Form>
    </Sheet>
  );
}

function Read({ client, test, onClose }: { client: string; test: AlertTest; onClose: () => void }) {
  const [note, setNote] = useState("");
  const { busy, error, run } = useAct();
  const early = test.readable_at_ms > now.value;
  return (
    <Sheet title={t("test.read")} onClose={onClose}>
      {early && <Note kind="look">{t("test.too_early", { when: when(test.readable_at_ms) })}</Note>}
      <p>{t("test.look_at", { site: test.applied.at(-1)?.value.site ?? "?" })}</p>
      <Field label={t("test.note")} hint={t("test.note.hint")} value={note} onChange={setNote} />
      <Trouble error={error} />
      <div class="stack near">
        {results.map((result) => (
          <Button key={result} big wide busy={busy} look={result === "nothing_seen" ? "plain" : "grave"} onPress={() => void run((station) => station.readAlertTest(client, test.id, result, note.trim()), onClose)}>{t(`test.result.${result}`)}</Button>
        ))}
      </div>
      <p class="quiet small">{t("test.rules_nothing_out")}</p>
    </Sheet>
  );
}

function Void({ client, test, onClose }: { client: string; test: AlertTest; onClose: () => void }) {
  const { error, run } = useAct();
  return <Reason title={t("test.void")} go={t("test.void")} usual={[t("void.washed"), t("void.lost"), t("void.never")]} error={error} onClose={onClose} onGo={(why) => void run((station) => station.voidAlertTest(client, test.id, why), onClose)} />;
}
