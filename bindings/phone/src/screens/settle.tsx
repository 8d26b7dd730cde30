// What people said apart: every answer side by side, who gave it and when, and one tap to settle it.
import type { Asked } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { clockTime, day, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Empty, Screen, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";

export function Settle({ doc }: { doc?: string }) {
  const live = useLive(`questions ${doc ?? ""}`, (station) => (doc ? station.questionsIn(doc) : station.questions()));
  const back = doc?.startsWith("visit/") ? to("visit", doc) : doc?.startsWith("client/") ? to("client", doc) : to();
  return (
    <Screen title={t("settle.title")} back={back}>
      <Show live={live}>{(asked) => (asked.length === 0 ? <Empty shape="asks">{t("settle.none")}</Empty> : <><p class="quiet">{t("settle.lead")}</p>{asked.map((one) => <Question key={`${one.doc} ${one.id}`} of={one} />)}</>)}</Show>
    </Screen>
  );
}

function Question({ of }: { of: Asked }) {
  const { busy, error, run } = useAct();
  return (
    <section class="card" aria-label={told(of.place)}>
      <div class="row-of"><Shape of="asks" /><h2>{told(of.place)}</h2></div>
      <div class="sides">
        {of.choices.map((choice) => (
          <div class="side" key={choice.id}>
            <strong class="what">{told(choice.text)}</strong>
            <span class="quiet small">{choice.by ? personName(choice.by) : t("settle.nobody")}{choice.at ? ` · ${day(choice.at.ms, zone.value)} ${clockTime(choice.at.ms, zone.value)}` : ""}</span>
            <Button wide big busy={busy} label={t("settle.take", { what: told(choice.text) })} onPress={() => void run((station) => station.settle(of.doc, of.id, choice.id))}>{t("settle.this")}</Button>
          </div>
        ))}
      </div>
      <Trouble error={error} />
    </section>
  );
}
