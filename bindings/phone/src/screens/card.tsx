// A client's card: what to watch first, then what stands against colour, then everything else by its own screen.
import { useState } from "preact/hooks";
import type { ClientView, Told, Watch } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { lengths, personName, zone } from "../time.ts";
import { clockTime, day, dayAndYear, number, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Part, Pick } from "../ui/ask.tsx";
import { Choice, Form } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";
import { field, fieldNumber, length, level } from "../work/said.ts";

const grave: readonly Watch["kind"][] = ["sensitivity", "past_reaction", "test_reaction"];

/** What to watch: what can hurt by itself first and apart, the rest in one list. */
export function WatchList({ of, more = [] }: { of: readonly Watch[]; more?: readonly { text: Told; at?: number }[] }) {
  const first = of.filter((one) => grave.includes(one.kind)), rest = of.filter((one) => !grave.includes(one.kind));
  const by = (one: Watch) => one.by && one.at && <span class="small quiet">{personName(one.by)} · {day(one.at.ms, zone.value)}</span>;
  return (
    <section class="stack near" aria-label={t("watch.title")}>
      {first.map((one, i) => <Note kind="off" key={i}><strong>{told(one.text)}</strong>{by(one)}</Note>)}
      {rest.length + more.length > 0 && (
        <Note kind="look">
          <ul class="watched">
            {rest.map((one, i) => <li key={i}><strong>{told(one.text)}</strong>{by(one)}</li>)}
            {more.map((one) => <li key={one.text.text}><strong>{told(one.text)}</strong>{one.at !== undefined && <span class="small">{clockTime(one.at, zone.value)}</span>}</li>)}
          </ul>
        </Note>
      )}
    </section>
  );
}

/** Hair in a few words. */
export function hairTold(card: ClientView): string {
  const natural = fieldNumber(card, "natural_level_tenths"), white = fieldNumber(card, "white_pct"), long = fieldNumber(card, "length_mm");
  return [
    natural !== undefined && t("hair.level", { level: level(natural) }),
    white !== undefined && t("hair.white", { percent: number(white) }),
    ...["texture", "density", "porosity", "curl"].map((name) => field(card, name) && `${t(`field.${name as "texture"}`)}: ${usual(name, field(card, name))}`),
    long !== undefined && length(long * 1000, lengths.value),
  ].filter(Boolean).join(" · ");
}
const ours: Record<string, readonly string[]> = { texture: ["fine", "medium", "coarse"], density: ["thin", "medium", "thick"], porosity: ["low", "medium", "high"], curl: ["straight", "wavy", "curly", "coily"] };
export const usual = (name: string, value: string) => (ours[name]?.includes(value) ? t(`hair.${value as "fine"}`) : value);

export function Card({ id }: { id: string }) {
  const live = useLive(`card ${id}`, async (station) => ({
    card: await station.client(id), watch: await station.watchList(id), verdict: await station.alertVerdict(id), visits: await station.visitsOf(id), floor: await station.floor(),
  }));
  const [opening, setOpening] = useState(false);
  return (
    <Show live={live} within={{ title: t("client.title"), back: to("clients") }}>
      {({ card, watch, verdict, visits, floor }) => {
        const here = floor.visits.filter((one) => one.client === id && one.stage !== "closed");
        const answered = card.screening.filter((one) => one.answered.versions.length > 0).length;
        const good = verdict.standing.standing === "nothing_seen";
        const history = card.chemical.filter((one) => one.stands);
        const own = (name: string) => to("client", id, name);
        return (
          <Screen title={field(card, "name") || t("client.title")} back={to("clients")}>
            <WatchList of={watch} more={good ? [] : [{ text: verdict.text }]} />
            {watch.length === 0 && <p class="quiet">{t("watch.none")}</p>}
            {good && <Note shape="look"><span>{told(verdict.text)}</span></Note>}
            {card.questions > 0 && <Rows><Row shape="asks" title={t("settle.here", { n: card.questions })} href={to("settle", id)} /></Rows>}
            {here.map((one) => <Button key={one.visit} look="main" big wide onPress={() => go("visit", one.visit)}>{t("visit.go_on", { service: one.service || t("visit.title") })}</Button>)}
            {here.length === 0 && <Button look="main" big wide onPress={() => setOpening(true)}>{t("visit.open")}</Button>}
            <Rows>
              <Row title={t("hair.title")} detail={hairTold(card) || t("hair.none")} href={own("hair")} />
              <Row title={t("sens.title")} detail={t("count.entries", { n: [...card.sensitivities, ...card.reactions].filter((one) => one.stands).length })} href={own("sensitivities")} />
              <Row title={t("test.title")} detail={t(`test.standing.${verdict.standing.standing}`)} href={own("tests")} />
              <Row title={t("ask.title")} detail={t("ask.count", { done: answered, all: card.screening.length })} href={own("questions")} />
              <Row title={t("chem.title")} detail={t("count.entries", { n: history.length })} href={own("history")} />
              <Row title={t("contact.title")} detail={field(card, "phone") || undefined} href={own("contact")} />
            </Rows>
            <Part title={t("visits.title")}>
              {visits.length === 0 ? <p class="quiet">{t("visits.none")}</p> : (
                <Rows>{visits.map((one) => <Row key={one.visit} title={one.service || t("visit.title")} detail={`${dayAndYear(one.at_ms, zone.value)} · ${clockTime(one.at_ms, zone.value)}`} href={to("visit", one.visit)} />)}</Rows>
              )}
            </Part>
            {visits.length > 1 && <ButtonLink wide href={to("compare", visits[1]!.visit, visits[0]!.visit)}>{t("compare.last")}</ButtonLink>}
            {opening && <OpenVisit client={id} onClose={() => setOpening(false)} />}
          </Screen>
        );
      }}
    </Show>
  );
}

function OpenVisit({ client, onClose }: { client: string; onClose: () => void }) {
  const [service, setService] = useState("");
  const [take, setTake] = useState<"yes" | "no">("yes");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("visit.open")} onClose={onClose}>
      <Form onSubmit={() => void run((station) => station.openVisit({ client, service: service.trim(), planned_at: null, stylist: null, take: take === "yes" }), (visit) => go("visit", visit))}>
        <Pick label={t("visit.service")} value={service} onChange={setService} options={(["regrowth", "lightening", "foils", "gloss", "change"] as const).map((one) => ({ value: t(`service.${one}`), text: t(`service.${one}`) }))} />
        <Choice label={t("visit.who")} value={take} onChange={setTake} options={[{ value: "yes", text: t("visit.mine") }, { value: "no", text: t("visit.nobodys") }]} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!service.trim()}>{t("visit.open")}</Button>
      </Form>
    </Sheet>
  );
}
