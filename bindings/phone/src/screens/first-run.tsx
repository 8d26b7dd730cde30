// No salon here yet: join one, found one, or bring one back.
import { useState } from "preact/hooks";
import type { Role } from "@tailcomb/web/types";
import { path, to, turn } from "../route.ts";
import { client } from "../station.ts";
import { useAct } from "../live.ts";
import { Choice, Field, Form } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Trouble, Waiting } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { roleChoices } from "../ui/roles.ts";
import { Shape } from "../ui/shape.tsx";
import { language, languages, t } from "../words/index.ts";
import { recoveryWords } from "./recovery-words.tsx";

/** An invitation link that was opened in the browser: `…/join#secret`. Taken out of the address bar at once. */
let invited = "";
if (/\/join\/?$/.test(location.pathname) && location.hash.length > 1 && !location.hash.startsWith("#/")) {
  invited = location.href;
  history.replaceState(null, "", `/${to("join")}`);
  path.value = "/join";
}

export function FirstRun() {
  switch (path.value) {
    case "/join": return <Join />;
    case "/found": return <FoundSalon />;
    case "/recover": return <Recover />;
    default: return <Begin />;
  }
}

function Begin() {
  return (
    <Screen title={t("app.name")} back={null} bare>
      <div class="stack near" style={{ color: "var(--act)" }}><Shape of="comb" size={72} /></div>
      <div class="stack near"><h2>{t("first.title")}</h2><p class="quiet">{t("first.lead")}</p></div>
      <Rows>
        <Row shape="device" title={t("first.join")} detail={t("first.join.detail")} href={to("join")} />
        <Row shape="plus" title={t("first.found")} detail={t("first.found.detail")} href={to("found")} />
        <Row shape="undo" title={t("first.recover")} detail={t("first.recover.detail")} href={to("recover")} />
      </Rows>
      <div class="row-of">
        {languages.map((one) => (
          <Button key={one.code} look={one.code === language.value ? "plain" : "quiet"} onPress={() => { language.value = one.code; }}>
            <span lang={one.code}>{one.name}</span>
          </Button>
        ))}
      </div>
    </Screen>
  );
}

function Join() {
  const [link, setLink] = useState(invited);
  const [station, setStation] = useState("");
  const { busy, error, run } = useAct();
  const go = () => run(() => client.join(link.trim(), station.trim()), () => { invited = ""; turn(""); });
  return (
    <Screen title={t("join.title")} bare>
      <p>{t("join.lead")}</p>
      <Form onSubmit={go}>
        <Field label={t("join.link")} hint={t("join.hint")} value={link} onChange={setLink} type="url" required />
        <Field label={t("first.station")} hint={t("first.station.hint")} value={station} onChange={setStation} required />
        <Trouble error={error} />
        {busy ? <Waiting what={t("wait.working")} /> : <Button look="main" big wide submit disabled={!link.trim() || !station.trim()}>{t("join.go")}</Button>}
      </Form>
    </Screen>
  );
}

function FoundSalon() {
  const [name, setName] = useState("");
  const [person, setPerson] = useState("");
  const [station, setStation] = useState("");
  const [role, setRole] = useState<Role>("stylist");
  const [zone, setZone] = useState(Intl.DateTimeFormat().resolvedOptions().timeZone);
  const { busy, error, run } = useAct();
  const go = () => run(
    () => client.found({ name: name.trim(), zone, relay_url: location.origin, station: station.trim(), person: person.trim(), role }),
    (words) => { recoveryWords.value = words; turn(""); },
  );
  return (
    <Screen title={t("found.title")} bare>
      <Form onSubmit={go}>
        <Field label={t("found.name")} value={name} onChange={setName} required />
        <Field label={t("found.person")} value={person} onChange={setPerson} required autocomplete="name" />
        <Choice label={t("found.role")} value={role} options={roleChoices()} onChange={setRole} />
        <Field label={t("first.station")} hint={t("first.station.hint")} value={station} onChange={setStation} required />
        <Field label={t("found.zone")} value={zone} onChange={setZone} required />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={![name, person, station, zone].every((one) => one.trim())}>{t("found.go")}</Button>
      </Form>
    </Screen>
  );
}

function Recover() {
  const [words, setWords] = useState("");
  const [station, setStation] = useState("");
  const { busy, error, run } = useAct();
  const go = () => run(() => client.recover(words.trim().toLowerCase().split(/\s+/).join(" "), station.trim()), () => turn(""));
  return (
    <Screen title={t("recover.title")} bare>
      <Note shape="lock">{t("recover.lead")}</Note>
      <Form onSubmit={go}>
        <Field label={t("recover.words")} value={words} onChange={setWords} lines={4} required />
        <Field label={t("first.station")} hint={t("first.station.hint")} value={station} onChange={setStation} required />
        <Trouble error={error} />
        {busy ? <Waiting what={t("wait.working")} /> : <Button look="main" big wide submit disabled={!words.trim() || !station.trim()}>{t("recover.go")}</Button>}
      </Form>
    </Screen>
  );
}
