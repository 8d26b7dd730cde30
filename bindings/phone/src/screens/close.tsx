// The close of a day: what is left to do, what was used and thrown away, and the proof that all stations hold the same record.
import { useState } from "preact/hooks";
import type { CloseSheet, DayProof, SheetTable } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { unsent } from "../status.ts";
import { personName, zone } from "../time.ts";
import { clockTime, date as dateTold, locale, t } from "../words/index.ts";
import { reworded, told } from "../words/told.ts";
import { Fold, Part, Reason } from "../ui/ask.tsx";
import { Note, Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button, HoldButton } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { handOut } from "../work/files.ts";

export function CloseDay({ day }: { day?: string }) {
  const [without, setWithout] = useState<string[]>([]);
  const live = useLive(`close ${day ?? ""} ${without.join()}`, async (station) => {
    const on = day ?? await station.today();
    return { on, sheet: await station.closeSheet(on), proof: await station.dayProof(on, without) };
  });
  return (
    <Screen title={t("close.title")}>
      <Show live={live}>{({ on, sheet, proof }) => <Page on={on} sheet={sheet} proof={proof} without={without} onWithout={setWithout} />}</Show>
    </Screen>
  );
}

function Page({ on, sheet, proof, without, onWithout }: { on: string; sheet: CloseSheet; proof: DayProof; without: string[]; onWithout: (names: string[]) => void }) {
  const { busy, error, run } = useAct();
  const todo = sheet.tables.filter((table) => table.to_do && table.rows.length > 0), rest = sheet.tables.filter((table) => !table.to_do);
  return (
    <>
      <p class="quiet">{dateTold(on)}{sheet.closed ? ` · ${t("close.closed")}` : ""}</p>
      <section class={todo.length === 0 && sheet.questions === 0 ? "card verdict clear" : "card verdict"}>
        <Shape of={todo.length === 0 && sheet.questions === 0 ? "comb" : "look"} size={40} />
        <strong>{todo.length === 0 && sheet.questions === 0 ? t("close.clear") : t("close.left", { n: todo.reduce((sum, one) => sum + one.rows.length, 0) + sheet.questions })}</strong>
      </section>
      {sheet.questions > 0 && <Rows><Row shape="asks" title={t("settle.here", { n: sheet.questions })} href={to("settle")} /></Rows>}
      <Open sheet={sheet} />
      <Proof on={on} proof={proof} without={without} onWithout={onWithout} clear={sheet.is_clear} />
      <Part title={t("close.detail")}>{[...rest, ...todo].map((table) => <Table key={table.title} of={table} open={false} />)}</Part>
      <Trouble error={error} />
      <div class="row-of">
        <Button busy={busy} onPress={() => void run(async (station) => station.pageHtml(reworded(await station.closePageTold(on)), locale.value), (page) => handOut(`${on}.html`, "text/html", page))}>{t("close.page")}</Button>
        <Button busy={busy} onPress={() => void run(async (station) => station.pageCsv(reworded(await station.closePageTold(on))), (text) => handOut(`${on}.csv`, "text/csv", text))}>{t("close.csv")}</Button>
        <Button onPress={() => print()}>{t("brief.print")}</Button>
      </div>
    </>
  );
}

/** What is open, each with the way to it. */
function Open({ sheet }: { sheet: CloseSheet }) {
  const { open_visits, readings, unfinished, timers, overrides } = sheet.summary;
  if (open_visits.length + readings.length + unfinished.length + timers.length + overrides.length === 0) return null;
  return (
    <Part title={t("close.go")}>
      <Rows>
        {open_visits.map((one) => <Row key={one.visit} shape="people" title={one.client_name} detail={t("close.open_visit")} href={to("visit", one.visit)} />)}
        {unfinished.map((one, i) => <Row key={i} shape="asks" title={one.client_name} detail={`${one.title ? `${one.title}: ` : ""}${t(`missing.${one.what}`)}${one.held_by.length ? ` · ${one.held_by.map(personName).join(", ")}` : ""}`} href={to("visit", one.visit)} />)}
        {readings.map((one) => <Row key={one.test} shape="look" title={one.client_name} detail={t("close.reading", { product: one.product })} href={to("client", one.client, "tests")} />)}
        {timers.map((one) => <Row key={`${one.doc} ${one.timer}`} shape="comb" title={one.client_name || told(one.label)} detail={t("close.timer", { label: told(one.label) || t(`kind.${one.kind}`) })} {...(one.doc.startsWith("visit/") ? { href: to("visit", one.doc) } : { href: to() })} />)}
        {overrides.filter((one) => !one.withdrawn).map((one, i) => <Row key={i} shape="warn" title={one.client_name} detail={t("close.override", { who: one.by.name, why: one.why })} href={to("visit", one.visit, "plan")} />)}
      </Rows>
    </Part>
  );
}

/** As the terminal writes it: enough to read out across the floor. */
const mark = (digest: string) => digest.slice(0, 12).replace(/(....)(?=.)/g, "$1-");

function Proof({ on, proof, without, onWithout, clear }: { on: string; proof: DayProof; without: string[]; onWithout: (names: string[]) => void; clear: boolean }) {
  const { busy, error, run } = useAct();
  const [reopening, setReopening] = useState(false);
  const same = proof.agreement.agreement === "same";
  const digests = new Set(proof.stations.flatMap((one) => (one.stated ? [one.stated.digest] : [])));
  return (
    <Part title={t("proof.title")}>
      <p class="quiet">{t("proof.lead")}</p>
      {!proof.closed && <div class={same ? "digest same" : "digest"}><span class="small quiet">{t("proof.here")}</span><code>{mark(proof.here)}</code></div>}
      <Rows>
        {proof.stations.map((one) => {
          const differs = one.stated && digests.size > 1;
          const left = without.includes(one.name) || without.includes(one.device);
          return (
            <Row key={one.device} shape={one.stated && one.stated.unsent === 0 && !differs ? "device" : "asks"} title={one.name}
              detail={one.stated ? [one.at && t("proof.stated", { time: clockTime(one.at.ms, zone.value) }), one.stated.unsent > 0 && t("status.unsent", { n: one.stated.unsent })].filter(Boolean).join(" · ") : proof.closed ? t("proof.no_part") : left ? t("proof.left_out") : t("proof.silent")}
              end={one.stated ? <code>{mark(one.stated.digest)}</code> : !proof.closed && <Button look="quiet" onPress={() => onWithout(left ? without.filter((name) => name !== one.device) : [...without, one.device])}>{left ? t("proof.count_in") : t("proof.leave_out")}</Button>} />
          );
        })}
      </Rows>
      <p><strong>{proof.closed ? t("close.closed") : same ? t("proof.same") : t("proof.open")}</strong></p>
      {unsent.value > 0 && <Note kind="look">{t("proof.unsent", { n: unsent.value })}</Note>}
      <Trouble error={error} />
      {!proof.closed && <Button wide big look={same ? "plain" : "main"} busy={busy} onPress={() => void run((station) => station.stateClosing(on))}>{t("proof.state")}</Button>}
      {!proof.closed && same && <HoldButton wide big look="main" name={t("close.do")} onHeld={() => void run((station) => station.closeDay(on, without))}>{t("hold.to", { what: t("close.do") })}</HoldButton>}
      {!proof.closed && same && !clear && <Note kind="look">{t("close.not_clear")}</Note>}
      {proof.closed && <Button wide onPress={() => setReopening(true)}>{t("close.reopen")}</Button>}
      {reopening && <Reason title={t("close.reopen")} go={t("close.reopen")} error={error} onClose={() => setReopening(false)} onGo={(why) => void run((station) => station.reopenDay(on, why), () => setReopening(false))} />}
    </Part>
  );
}

/** A table of the core's; on a phone each row is read downwards. */
function Table({ of, open }: { of: SheetTable; open: boolean }) {
  const rows = [...of.rows.map((row) => ({ row, total: false })), ...(of.total ? [{ row: of.total, total: true }] : [])];
  return (
    <Fold title={<><span>{told(of.title)}</span> <span class="quiet">({of.rows.length})</span></>} open={open}>
      {rows.length === 0 ? <p class="quiet">{t("close.nothing")}</p> : (
        <dl class="sheet-table">
          {rows.map(({ row, total }, i) => <div key={i} class={total ? "total" : ""}>{row.map((cell, n) => cell.text && <span key={n}><dt>{told(of.columns[n]!)}</dt><dd>{told(cell)}</dd></span>)}</div>)}
        </dl>
      )}
    </Fold>
  );
}
