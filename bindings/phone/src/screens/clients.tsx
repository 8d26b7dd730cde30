// Finding a client's card by the beginnings of words, and beginning a new one.
import { useState } from "preact/hooks";
import type { BroughtIn } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { t } from "../words/index.ts";
import { Field, FileButton, Form } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";

const MOST = 40;

export function Clients() {
  const [words, setWords] = useState("");
  const [importing, setImporting] = useState(false);
  const asked = words.trim();
  // Nothing asked yet: whoever is on the floor is most likely meant.
  const live = useLive(`clients ${asked}`, async (station) => {
    if (asked) return station.search(asked, MOST + 1);
    const here = (await station.floor()).visits.flatMap((one) => (one.client ? [{ id: one.client, title: one.client_name }] : []));
    return here.filter((one, i) => here.findIndex((other) => other.id === one.id) === i);
  });
  return (
    <Screen title={t("clients.title")}>
      <Field label={t("clients.search")} hint={t("clients.hint")} type="search" value={words} onChange={setWords} />
      <Show live={live}>
        {(found) => found.length === 0 ? <Empty shape="people">{asked ? t("clients.none", { words: asked }) : t("clients.empty")}</Empty> : (
          <>
            {!asked && <h2>{t("clients.today")}</h2>}
            <Rows label={t("clients.title")}>
              {found.slice(0, MOST).map((one) => <Row key={one.id} title={one.title} href={to("client", one.id)} />)}
            </Rows>
            {found.length > MOST && <p class="quiet">{t("clients.more", { n: MOST })}</p>}
          </>
        )}
      </Show>
      <ButtonLink href={to("clients", "new", asked || "-")} look="main" big wide>{t("clients.new")}</ButtonLink>
      <Button wide onPress={() => setImporting(true)}>{t("clients.import")}</Button>
      {importing && <TakeIn onClose={() => setImporting(false)} />}
    </Screen>
  );
}

/** A client's file, as a salon hands it out: a new card with its visits, or everything that is wrong with the file. */
function TakeIn({ onClose }: { onClose: () => void }) {
  const [brought, setBrought] = useState<BroughtIn | undefined>();
  const { busy, error, run } = useAct();
  const open = async (file: File) => {
    const bytes = new Uint8Array(await file.arrayBuffer());
    await run((station) => station.importClient(bytes), setBrought);
  };
  return (
    <Sheet title={t("clients.import")} onClose={onClose}>
      <p class="quiet">{t("clients.import.lead")}</p>
      {!brought && <FileButton look="main" big busy={busy} label={t("import.file")} accept=".json,application/json" onFile={(file) => void open(file)} />}
      <Trouble error={error} />
      {brought && (
        <>
          <Note shape="people">
            <strong>{t("clients.imported", { name: brought.name, n: brought.visits.length })}</strong>
            {brought.others.length > 0 && <span>{t("clients.imported.others", { who: brought.others.join(", ") })}</span>}
          </Note>
          <ButtonLink look="main" big wide href={to("client", brought.client)}>{t("clients.import.open")}</ButtonLink>
        </>
      )}
    </Sheet>
  );
}

export function NewClient({ words }: { words: string }) {
  const [name, setName] = useState(words === "-" ? "" : words);
  const [phone, setPhone] = useState("");
  const [born, setBorn] = useState("");
  const { busy, error, run } = useAct();
  const fields = () => [["phone", phone.trim()] as const, ["born", born] as const].filter(([, text]) => text).map(([field, text]) => [field, text] as ["phone" | "born", string]);
  return (
    <Screen title={t("clients.new")} back={to("clients")}>
      <Form onSubmit={() => void run((station) => station.newClient(name.trim(), fields()), (id) => go("client", id))}>
        <Field label={t("field.name")} value={name} onChange={setName} required />
        <Field label={t("field.phone")} value={phone} onChange={setPhone} type="tel" />
        <Field label={t("field.born")} hint={t("field.born.hint")} value={born} onChange={setBorn} type="date" />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!name.trim()}>{t("clients.begin")}</Button>
      </Form>
    </Screen>
  );
}
