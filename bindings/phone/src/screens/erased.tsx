// What came of erasing a client: what is gone, what no erasing reaches, and where others' records still name them.
import type { Erased as Done, Mention } from "@tailcomb/web/types";
import { to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { clockTime, day, t, type PlainKey } from "../words/index.ts";
import { Part } from "../ui/ask.tsx";
import { Note, Row, Rows, Screen } from "../ui/frame.tsx";
import { ButtonLink } from "../ui/press.tsx";

const pages: Record<string, PlainKey> = { client: "erased.in.client", visit: "erased.in.visit", day: "erased.in.day", shelf: "erased.in.shelf" };
/** The page that a mention stands on, and the way to it where it has a screen. */
function page(doc: string): { title: string; href?: string } {
  const kind = doc.split("/")[0] ?? "";
  return { title: t(pages[kind] ?? "erased.in.salon"), ...(kind === "client" || kind === "visit" ? { href: to(kind, doc) } : {}) };
}

export function Erased({ of }: { of: Done }) {
  const wrote = (one: Mention) => `${personName(one.by)} · ${day(one.at_ms, zone.value)} ${clockTime(one.at_ms, zone.value)}`;
  return (
    <Screen title={t("erased.title")} back={to("clients")}>
      <p>{t("erased.gone", { n: of.docs.length - 1 })}</p>
      {of.unsent > 0 && <p>{t("erased.unsent", { n: of.unsent })}</p>}
      {!of.wiped && <Note kind="look">{t("erased.no_room")}</Note>}
      <Note kind="look">{t("erased.left")}</Note>
      {of.mentions.length > 0 && (
        <Part title={t("erased.named")}>
          <p class="quiet">{t("erased.named.lead")}</p>
          <Rows label={t("erased.named")}>{of.mentions.map((one, i) => <Row key={i} {...page(one.doc)} detail={wrote(one)} />)}</Rows>
        </Part>
      )}
      <ButtonLink look="main" big wide href={to("clients")}>{t("do.done")}</ButtonLink>
    </Screen>
  );
}
