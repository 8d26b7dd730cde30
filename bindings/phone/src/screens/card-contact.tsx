// How to reach a client, what they agreed to, and their right to a copy and to be forgotten.
import { useState } from "preact/hooks";
import type { ClientField, ClientView, ConsentKind, Erased as Done } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { dayAndYear, locale, t } from "../words/index.ts";
import { reworded } from "../words/told.ts";
import { Part, Reason } from "../ui/ask.tsx";
import { Choice, Field, Form } from "../ui/form.tsx";
import { Note, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { field } from "../work/said.ts";
import { handOut } from "../work/files.ts";
import { Erased } from "./erased.tsx";

const fields = [["name", "text"], ["phone", "tel"], ["email", "email"], ["address", "text"], ["born", "date"]] as const;
const consents: readonly ConsentKind[] = ["health_notes", "photos", "messages"];

export function CardContact({ id }: { id: string }) {
  const live = useLive(`card ${id}`, (station) => station.client(id), [id]);
  const [erased, setErased] = useState<Done | undefined>();
  if (erased) return <Erased of={erased} />;
  return <Screen title={t("contact.title")} back={to("client", id)}><Show live={live}>{(card) => <Contact id={id} card={card} onErased={setErased} />}</Show></Screen>;
}

/** The files that a card came from: who said what in it is as they say. */
function CameFrom({ id }: { id: string }) {
  const live = useLive(`imports ${id}`, (station) => station.importNotes(id), [id]);
  if (live.state !== "here") return null;
  return <>{live.value.map((one) => <p key={one.made_at_ms}>{t("rights.came_from", { salon: one.salon, day: dayAndYear(one.made_at_ms, zone.value), who: personName(one.by), on: dayAndYear(one.at.ms, zone.value) })}</p>)}</>;
}

function Contact({ id, card, onErased }: { id: string; card: ClientView; onErased: (done: Done) => void }) {
  const [said, setSaid] = useState<Partial<Record<ClientField, string>>>({});
  const [erasing, setErasing] = useState(false);
  const { busy, error, run, forget } = useAct();
  const changed = (Object.entries(said) as [ClientField, string][]).filter(([name, value]) => value !== field(card, name));
  const called = field(card, "name");
  return (
    <>
      <Form onSubmit={() => void run((station) => station.setClient(id, changed), () => setSaid({}))}>
        {fields.map(([name, type]) => <Field key={name} label={t(`field.${name}`)} type={type} value={said[name] ?? field(card, name)} onChange={(value) => setSaid((before) => ({ ...before, [name]: value }))} />)}
        <Trouble error={error} />
        <Button look="main" wide submit busy={busy} disabled={changed.length === 0}>{t("do.save")}</Button>
      </Form>
      <Part title={t("consent.title")}>
        {consents.map((kind) => {
          const stands = card.consents.find((one) => one.kind === kind);
          return <Choice key={kind} label={t(`consent.${kind}`)} value={stands && (stands.stands ? "yes" : "no")} onChange={(value) => void run((station) => station.setConsent(id, kind, value === "yes"))}
            options={[{ value: "yes", text: t("consent.yes") }, { value: "no", text: t("consent.no") }]} />;
        })}
      </Part>
      <Part title={t("rights.title")}>
        <p class="quiet">{t("rights.lead")}</p>
        <CameFrom id={id} />
        <div class="row-of">
          <Button busy={busy} onPress={() => void run(async (station) => station.pageHtml(reworded(await station.clientPageTold(id)), locale.value), (page) => handOut(`${called}.html`, "text/html", page))}>{t("rights.page")}</Button>
          <Button busy={busy} onPress={() => void run((station) => station.exportClient(id), (file) => handOut(`${called}.json`, "application/json", JSON.stringify(file, null, 2)))}>{t("rights.data")}</Button>
          <Button look="grave" onPress={() => { forget(); setErasing(true); }}>{t("rights.erase")}</Button>
        </div>
      </Part>
      {erasing && (
        <Reason title={t("rights.erase")} grave go={t("rights.erase")} usual={[t("rights.asked"), t("rights.doubled")]} error={error} onClose={() => setErasing(false)}
          lead={<Note kind="off"><span>{t("rights.erase.lead", { name: called })}</span></Note>}
          onGo={(why) => void run((station) => station.eraseClient(id, why), onErased)} />
      )}
    </>
  );
}
