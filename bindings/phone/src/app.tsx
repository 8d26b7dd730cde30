// What the page shows: how far the station is, then the screen that the address names.
import { useEffect } from "preact/hooks";
import { computed } from "@preact/signals";
import { match, path, turn } from "./route.ts";
import { routes } from "./routes.ts";
import { client, secure, standing, why } from "./station.ts";
import { nobody } from "./person.ts";
import { Empty, Note, Screen, Trouble, Waiting } from "./ui/frame.tsx";
import { Boundary } from "./ui/boundary.tsx";
import { useAct } from "./live.ts";
import { Button, HoldButton } from "./ui/press.tsx";
import { t } from "./words/index.ts";
import { FirstRun } from "./screens/first-run.tsx";
import { Recovery, recoveryWords } from "./screens/recovery-words.tsx";
import { AlarmOverlay } from "./alarm/overlay.tsx";
import "./alarm/device.ts";
import "./alarm/aloud.ts";
import { UpdateNote } from "./ui/update-note.tsx";

const here = computed(() => {
  for (const [pattern, screen] of routes) {
    const values = match(pattern, path.value);
    if (values) return { screen, values };
  }
  return undefined;
});

export function App() {
  return (
    <>
      <a class="skip" href="#content" onClick={(e) => { e.preventDefault(); document.getElementById("content")?.focus(); }}>{t("nav.skip")}</a>
      <Body />
    </>
  );
}

function Body() {
  if (!secure) return <Plain title={t("stand.insecure.title")} text={t("stand.insecure.text")} />;
  if (recoveryWords.value) return <Recovery />;
  switch (standing.value) {
    case "opening":
      return <Screen title={t("app.name")} back={null} bare><Waiting what={t("stand.opening")} /></Screen>;
    case "elsewhere":
      return (
        <Screen title={t("stand.elsewhere.title")} back={null} bare>
          <Empty shape="device">{t("stand.elsewhere.text")}</Empty>
          <Button look="main" big wide onPress={() => void client.takeOver()}>{t("stand.elsewhere.take")}</Button>
        </Screen>
      );
    case "failed":
      return why.value?.code === "locked"
        ? <Locked />
        : <Plain title={t("stand.failed.title")} text={t("stand.failed.text")} detail={why.value?.message} />;
    case "empty":
      return <FirstRun />;
    case "station":
      return <Station />;
  }
}

/** The browser has lost the key: nothing here can be opened any more, and on an installed app nobody finds where to clear it. */
function Locked() {
  const { busy, error, run } = useAct();
  return (
    <Screen title={t("stand.locked.title")} back={null} bare>
      <Note kind="off"><span>{t("stand.locked.text")}</span></Note>
      <Trouble error={error} />
      {busy ? <Waiting what={t("wait.working")} /> : <HoldButton wide big look="grave" name={t("stand.locked.anew")} onHeld={() => void run(() => client.beginAnew())}>{t("hold.to", { what: t("stand.locked.anew") })}</HoldButton>}
    </Screen>
  );
}

function Plain({ title, text, detail }: { title: string; text: string; detail?: string | undefined }) {
  return (
    <Screen title={title} back={null} bare>
      <Note kind="off"><span>{text}</span>{detail && <span class="quiet small" lang="en">{detail}</span>}</Note>
      <Button wide onPress={() => location.reload()}>{t("do.again")}</Button>
    </Screen>
  );
}

function Station() {
  const ask = nobody.value;
  useEffect(() => { if (ask && path.peek() !== "/sign-in") turn("sign-in"); }, [ask]);
  const found = here.value;
  if (!found) return <Screen title={t("app.name")}><Empty>{t("trouble.not_found")}</Empty></Screen>;
  const { screen: Shown, values } = found;
  // A screen for another client or visit starts afresh.
  return <><Boundary key={path.value}><Shown {...values} /></Boundary>{path.value !== "/" && <UpdateNote />}<AlarmOverlay /></>;
}
