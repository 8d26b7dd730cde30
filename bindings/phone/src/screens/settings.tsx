// What this phone likes and what it can do, and who is signed in.
import { useEffect, useState } from "preact/hooks";
import { canSpeak } from "../alarm/aloud.ts";
import { awake } from "../alarm/device.ts";
import { audible, play } from "../alarm/sound.ts";
import { useAct } from "../live.ts";
import { to } from "../route.ts";
import { aloud, autoLock, size, sizes, sound, theme, themes } from "../settings.ts";
import { person, said, weights } from "../time.ts";
import { readyOffline } from "../update.ts";
import { Choice } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";
import { language, languages, number, t } from "../words/index.ts";
import { People } from "./people.tsx";
import { Presets } from "./presets.tsx";

const onOff = () => [{ value: "on" as const, text: t("settings.on") }, { value: "off" as const, text: t("settings.off") }];

export function Settings() {
  const { error, run } = useAct();
  return (
    <Screen title={t("settings.title")}>
      <section class="stack near" aria-labelledby="s-person">
        <h2 id="s-person">{t("settings.person")}</h2>
        <Rows><Row shape="people" title={said(person.value?.name) ?? t("settings.person.none")} detail={person.value ? t(`role.${said(person.value.role) ?? "associate"}`) : undefined} /></Rows>
        <ButtonLink href={to("sign-in")} wide>{t("settings.person.change")}</ButtonLink>
      </section>
      <Choice label={t("settings.language")} value={language.value} options={languages.map((one) => ({ value: one.code, text: <span lang={one.code}>{one.name}</span> }))} onChange={(value) => { language.value = value; }} />
      <Choice label={t("settings.theme")} value={theme.value} options={themes.map((value) => ({ value, text: t(`settings.theme.${value}`) }))} onChange={(value) => { theme.value = value; }} />
      <Choice label={t("settings.size")} value={size.value} options={sizes.map((value) => ({ value, text: `${value} %` }))} onChange={(value) => { size.value = value; }} />
      <Choice label={t("settings.weights")} value={weights.value} options={(["grams", "ounces"] as const).map((value) => ({ value, text: t(`settings.weights.${value}`) }))}
        onChange={(value) => void run((station) => station.setPolicy({ policy: "weights", value }))} />
      <Trouble error={error} />
      <section class="stack" aria-labelledby="s-alarms">
        <h2 id="s-alarms">{t("settings.alarms")}</h2>
        <Note shape="warn"><span>{t("alarm.page")}</span></Note>
        <Choice label={t("settings.sound")} value={sound.value} options={onOff()} onChange={(value) => { sound.value = value; }} />
        <Button wide onPress={() => play("up")}>{t("settings.sound.try")}</Button>
        <Choice label={t("settings.aloud")} value={aloud.value} options={onOff()} onChange={(value) => { aloud.value = value; }} />
        <Choice label={t("settings.auto_lock")} value={autoLock.value} options={onOff()} onChange={(value) => { autoLock.value = value; }} />
      </section>
      <Presets />
      <People />
      <Can />
    </Screen>
  );
}

/** What the browser of this phone gives, asked of it rather than guessed from its name. */
function Can() {
  const [kept, setKept] = useState<boolean | undefined>();
  const [used, setUsed] = useState<number | undefined>();
  useEffect(() => {
    void navigator.storage.persisted().then(setKept);
    void navigator.storage.estimate().then((all) => setUsed(all.usage));
  }, []);
  const yes = (can: boolean) => (can ? t("can.yes") : t("can.no"));
  const installed = matchMedia("(display-mode: standalone)").matches;
  return (
    <section class="stack near" aria-labelledby="s-can">
      <h2 id="s-can">{t("settings.can")}</h2>
      <Rows>
        <Row title={t("can.sound")} end={audible.value ? t("can.yes") : t("can.sound.no")} />
        <Row title={t("can.vibrate")} end={yes("vibrate" in navigator)} />
        <Row title={t("can.awake")} end={yes(awake.value !== "cannot")} />
        <Row title={t("can.badge")} end={yes("setAppBadge" in navigator)} />
        <Row title={t("can.aloud")} end={yes(canSpeak)} />
        <Row title={t("can.offline")} end={yes(readyOffline.value)} />
        <Row title={t("can.installed")} end={yes(installed)} />
        <Row title={t("can.persist")} end={kept === undefined ? "…" : yes(kept)} />
        {used !== undefined && <Row title={t("can.used")} end={`${number(used / 1_048_576, 1)} MB`} />}
      </Rows>
      {kept === false && (
        <>
          <Note kind="look"><span>{t("can.persist.note")}</span></Note>
          <Button wide onPress={() => void navigator.storage.persist().then(setKept)}>{t("can.persist.ask")}</Button>
        </>
      )}
    </section>
  );
}
