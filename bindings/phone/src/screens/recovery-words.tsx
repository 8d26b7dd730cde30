// The recovery words, shown once after founding, and proved to be written down before the first card is made.
import { signal } from "@preact/signals";
import { useState } from "preact/hooks";
import { salonName } from "../time.ts";
import { Field, Form } from "../ui/form.tsx";
import { Note, Screen } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { t } from "../words/index.ts";

/** In this page's memory alone, until they were proved; kept nowhere. */
export const recoveryWords = signal<string | undefined>(undefined);

export function Recovery() {
  const words = (recoveryWords.value ?? "").split(" ");
  const [asked, setAsked] = useState<number | undefined>();
  const [typed, setTyped] = useState("");
  const [wrong, setWrong] = useState(false);
  const check = () => {
    if (asked === undefined) return;
    if (typed.trim().toLowerCase() === words[asked]) recoveryWords.value = undefined;
    else setWrong(true);
  };
  if (asked === undefined) {
    return (
      <Screen title={t("found.words.title")} back={null} bare>
        <Note shape="lock">{t("found.words.lead")}</Note>
        <h2>{salonName.value}</h2>
        <ol class="recovery" lang="en">{words.map((word, i) => <li key={i}><span class="quiet small">{i + 1}</span> <strong>{word}</strong></li>)}</ol>
        <Button wide onPress={() => print()}>{t("found.words.print")}</Button>
        <Button look="main" big wide onPress={() => setAsked(crypto.getRandomValues(new Uint8Array(1))[0]! % words.length)}>{t("found.words.go")}</Button>
      </Screen>
    );
  }
  return (
    <Screen title={t("found.words.title")} back={null} bare>
      <Form onSubmit={check}>
        <Field label={t("found.words.verify", { n: asked + 1 })} value={typed} onChange={(v) => { setTyped(v); setWrong(false); }} wrong={wrong ? t("found.words.wrong") : undefined} required />
        <Button look="main" big wide submit disabled={!typed.trim()}>{t("do.done")}</Button>
        <Button wide onPress={() => { setAsked(undefined); setTyped(""); setWrong(false); }}>{t("nav.back")}</Button>
      </Form>
    </Screen>
  );
}
