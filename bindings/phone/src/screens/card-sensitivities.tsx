// Sensitivities. One is never overwritten away: taking it off needs a reason, and it comes back when somebody said more meanwhile.
import { useState } from "preact/hooks";
import type { PastReaction, ReactedTo, Sensitivity, Severity } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { personName, zone } from "../time.ts";
import { day, t } from "../words/index.ts";
import { Part, Pick, Reason } from "../ui/ask.tsx";
import { Choice, Field, Form } from "../ui/form.tsx";
import { Empty, Note, Row, Rows, Screen, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button } from "../ui/press.tsx";

const severities: readonly Severity[] = ["mild", "strong", "severe"];
const usualSubstances = ["ppd", "ptd", "resorcinol", "ammonia", "persulfate", "peroxide", "fragrance", "latex"] as const;

export function CardSensitivities({ id }: { id: string }) {
  const live = useLive(`card ${id}`, (station) => station.client(id), [id]);
  const [editing, setEditing] = useState<{ entry?: string; said: Sensitivity } | undefined>();
  const [reaction, setReaction] = useState<{ entry?: string; said: PastReaction } | undefined>();
  const empty: Sensitivity = { substance: "", severity: "mild", reaction: "" };
  return (
    <Screen title={t("sens.title")} back={to("client", id)}>
      <Show live={live}>
        {(card) => {
          const standing = card.sensitivities.filter((one) => one.stands), gone = card.sensitivities.filter((one) => !one.stands);
          return (
            <>
              {standing.length === 0 && <Empty shape="warn">{t("sens.none")}</Empty>}
              {standing.length > 0 && (
                <Rows>
                  {standing.map((one) => {
                    const version = one.versions.at(-1);
                    return <Row key={one.id} shape={one.asks ? "asks" : "warn"} title={version ? `${version.value.substance} · ${t(`severity.${version.value.severity}`)}` : t("newer")}
                      detail={version && [version.value.reaction, one.brought_back && t("sens.back"), `${personName(version.by)}, ${day(version.at.ms, zone.value)}`].filter(Boolean).join(" · ")}
                      {...(version ? { onPress: () => setEditing({ entry: one.id, said: version.value }) } : {})} />;
                  })}
                </Rows>
              )}
              <Button look="main" big wide onPress={() => setEditing({ said: empty })}>{t("sens.add")}</Button>
              <Part title={t("react.title")}>
                <Rows>
                  {card.reactions.filter((one) => one.stands).map((one) => {
                    const version = one.versions.at(-1);
                    return <Row key={one.id} shape={one.asks ? "asks" : "warn"} title={version ? `${t(`react.${version.value.to}`)} · ${t(`severity.${version.value.severity}`)}` : t("newer")}
                      detail={version && [version.value.when, version.value.product, version.value.happened, `${personName(version.by)}, ${day(version.at.ms, zone.value)}`].filter(Boolean).join(" · ")}
                      {...(version ? { onPress: () => setReaction({ entry: one.id, said: version.value }) } : {})} />;
                  })}
                  <Row shape="plus" title={t("react.add")} onPress={() => setReaction({ said: { to: "hair_colour", severity: "mild", product: "", when: "", happened: "" } })} />
                </Rows>
              </Part>
              {gone.length > 0 && (
                <Part title={t("sens.gone")}>
                  <Rows>{gone.map((one) => { const off = one.removals.at(-1); return <Row key={one.id} title={one.versions.at(-1)?.value.substance ?? "?"} detail={off && `${off.why} · ${personName(off.by)}, ${day(off.at.ms, zone.value)}`} />; })}</Rows>
                </Part>
              )}
            </>
          );
        }}
      </Show>
      {editing && <Edit client={id} {...editing} onClose={() => setEditing(undefined)} />}
      {reaction && <EditReaction client={id} {...reaction} onClose={() => setReaction(undefined)} />}
    </Screen>
  );
}

function Edit({ client, entry, said, onClose }: { client: string; entry?: string; said: Sensitivity; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const [removing, setRemoving] = useState(false);
  const { busy, error, run } = useAct();
  if (removing && entry) {
    return <Reason title={t("sens.remove", { what: said.substance })} usual={[t("sens.mistake"), t("sens.doctor")]} go={t("do.remove")} grave error={error} onClose={onClose}
      lead={<Note kind="look">{t("sens.remove.lead")}</Note>} onGo={(why) => void run((station) => station.removeSensitivity(client, entry, why), onClose)} />;
  }
  const save = () => void run(async (station) => { if (entry) await station.changeSensitivity(client, entry, now); else await station.recordSensitivity(client, now); }, onClose);
  return (
    <Sheet title={entry ? t("sens.change") : t("sens.add")} onClose={onClose}>
      <Form onSubmit={save}>
        <Pick label={t("sens.substance")} value={now.substance} onChange={(substance) => setNow({ ...now, substance })} options={usualSubstances.map((one) => ({ value: t(`substance.${one}`), text: t(`substance.${one}`) }))} />
        <Choice label={t("sens.severity")} value={now.severity} onChange={(severity) => setNow({ ...now, severity })} options={severities.map((one) => ({ value: one, text: t(`severity.${one}`) }))} />
        <p class="quiet small">{t(`severity.${now.severity}.means`)}</p>
        <Field label={t("sens.reaction")} value={now.reaction} onChange={(reaction) => setNow({ ...now, reaction })} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!now.substance.trim()}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => setRemoving(true)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}

const reactedTo: readonly ReactedTo[] = ["hair_colour", "lightener", "black_tattoo", "cosmetic", "other"];

function EditReaction({ client, entry, said, onClose }: { client: string; entry?: string; said: PastReaction; onClose: () => void }) {
  const [now, setNow] = useState(said);
  const [removing, setRemoving] = useState(false);
  const { busy, error, run } = useAct();
  if (removing && entry) {
    return <Reason title={t("do.remove")} usual={[t("sens.mistake"), t("sens.doctor")]} go={t("do.remove")} grave error={error} onClose={onClose}
      lead={<Note kind="look">{t("sens.remove.lead")}</Note>} onGo={(why) => void run((station) => station.removeReaction(client, entry, why), onClose)} />;
  }
  return (
    <Sheet title={entry ? t("react.change") : t("react.add")} onClose={onClose}>
      <Form onSubmit={() => void run(async (station) => { if (entry) await station.changeReaction(client, entry, now); else await station.recordReaction(client, now); }, onClose)}>
        <Choice label={t("react.to")} value={now.to} onChange={(to) => setNow({ ...now, to })} options={reactedTo.map((one) => ({ value: one, text: t(`react.${one}`) }))} />
        <Choice label={t("sens.severity")} value={now.severity} onChange={(severity) => setNow({ ...now, severity })} options={severities.map((one) => ({ value: one, text: t(`severity.${one}`) }))} />
        <p class="quiet small">{t(`severity.${now.severity}.means`)}</p>
        <Field label={t("react.when")} value={now.when} onChange={(when) => setNow({ ...now, when })} />
        <Field label={t("react.product")} value={now.product} onChange={(product) => setNow({ ...now, product })} />
        <Field label={t("react.happened")} value={now.happened} onChange={(happened) => setNow({ ...now, happened })} lines={2} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy}>{t("do.save")}</Button>
        {entry && <Button look="grave" wide onPress={() => setRemoving(true)}>{t("do.remove")}</Button>}
      </Form>
    </Sheet>
  );
}
