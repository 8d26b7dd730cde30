// The devices of the salon: invite one by code or link, rename, shut out; and what the recovery words are for.
import { renderSVG } from "uqr";
import { useMemo, useState } from "preact/hooks";
import type { RosterStation } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { client } from "../station.ts";
import { said, zone } from "../time.ts";
import { Field } from "../ui/form.tsx";
import { Note, Row, Rows, Screen, Sheet, Show, Trouble, Waiting } from "../ui/frame.tsx";
import { Button, HoldButton } from "../ui/press.tsx";
import { day, t } from "../words/index.ts";

export function Stations() {
  const live = useLive("stations", async (station) => ({ salon: await station.salon(), here: await station.thisDevice(), relay: await station.relayUrl() }));
  const [open, setOpen] = useState<string | undefined>();
  const [inviting, setInviting] = useState(false);
  return (
    <Screen title={t("stations.title")}>
      <p class="quiet">{t("stations.lead")}</p>
      <Show live={live}>
        {({ salon, here, relay }) => {
          const working = salon.stations.filter((one) => one.revoked.length === 0);
          const opened = salon.stations.find((one) => one.device === open);
          return (
            <>
              {working.length < 2 && <Note kind="look" shape="device"><span>{t("stations.trust")}</span></Note>}
              <Rows label={t("stations.title")}>
                {[...working, ...salon.stations.filter((one) => one.revoked.length > 0)].map((one) => (
                  <Row key={one.device} shape={one.revoked.length > 0 ? "lock" : "device"} title={said(one.name) ?? one.device.slice(0, 8)}
                    detail={detail(one, here)} onPress={() => setOpen(one.device)} />
                ))}
              </Rows>
              <Button look="main" big wide onPress={() => setInviting(true)}>{t("stations.invite")}</Button>
              <Relay at={relay} />
              <section class="card" aria-labelledby="words">
                <h2 id="words">{t("stations.words")}</h2>
                <p>{t("stations.words.text")}</p>
              </section>
              {inviting && <Invite onClose={() => setInviting(false)} />}
              {opened && <Device of={opened} own={opened.device === here} onClose={() => setOpen(undefined)} />}
            </>
          );
        }}
      </Show>
    </Screen>
  );
}

/** Where the relay is. This device asks wherever its page came from; what it keeps is what invitations carry. */
function Relay({ at }: { at: string }) {
  const { busy, error, run } = useAct();
  const moved = at !== location.origin;
  return (
    <section class="card" aria-labelledby="relay">
      <h2 id="relay">{t("stations.relay")}</h2>
      <p><code>{at}</code></p>
      <p class="quiet">{t("stations.relay.lead")}</p>
      {moved && (
        <>
          <p>{t("stations.relay.moved", { origin: location.origin })}</p>
          <Trouble error={error} />
          <Button wide busy={busy} onPress={() => void run((station) => station.moveRelay(location.origin))}>{t("stations.relay.move", { origin: location.origin })}</Button>
        </>
      )}
    </section>
  );
}

function detail(one: RosterStation, here: string): string {
  const out = one.revoked[0];
  if (out) return t("stations.revoked", { day: day(out.at.ms, zone.value), why: out.why });
  const joined = one.joined ? t("stations.joined", { day: day(one.joined.ms, zone.value) }) : "";
  return [one.device === here ? t("stations.this") : "", joined].filter(Boolean).join(" · ");
}

function Invite({ onClose }: { onClose: () => void }) {
  const [link, setLink] = useState<string | undefined>();
  const [copied, setCopied] = useState(false);
  const { busy, error, run } = useAct();
  useMemo(() => void run(() => client.invite(), setLink), []);
  return (
    <Sheet title={t("stations.invite")} onClose={onClose}>
      <p>{t("stations.invite.lead")}</p>
      {busy && <Waiting what={t("wait.working")} />}
      <Trouble error={error} again={() => void run(() => client.invite(), setLink)} />
      {error && <p class="quiet">{t("stations.invite.needs")}</p>}
      {link && (
        <>
          <Code text={link} />
          <div class="field"><span class="label">{t("stations.invite.link")}</span><code class="link">{link}</code></div>
          <div class="row-of">
            <Button onPress={() => void navigator.clipboard.writeText(link).then(() => setCopied(true))}>{copied ? t("do.copied") : t("do.copy")}</Button>
            {"share" in navigator && <Button onPress={() => void navigator.share({ url: link }).catch(() => {})}>{t("do.share")}</Button>}
          </div>
        </>
      )}
    </Sheet>
  );
}

/** A code to scan: dark on light in either theme, since not every camera reads the reverse. */
function Code({ text }: { text: string }) {
  const source = useMemo(() => `data:image/svg+xml,${encodeURIComponent(renderSVG(text, { border: 4, pixelSize: 8 }))}`, [text]);
  return <img class="code" src={source} alt={t("stations.invite.code")} />;
}

function Device({ of, own, onClose }: { of: RosterStation; own: boolean; onClose: () => void }) {
  const [name, setName] = useState(said(of.name) ?? "");
  const [why, setWhy] = useState("");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={said(of.name) ?? of.device.slice(0, 8)} onClose={onClose}>
      <Field label={t("stations.rename")} value={name} onChange={setName} />
      <Button wide busy={busy} disabled={!name.trim()} onPress={() => void run((station) => station.renameStation(of.device, name.trim()), onClose)}>{t("do.save")}</Button>
      <Trouble error={error} />
      {!own && of.revoked.length === 0 && (
        <section class="card" aria-labelledby="out">
          <h3 id="out">{t("stations.revoke")}</h3>
          <p>{t("stations.revoke.lead")}</p>
          <Field label={t("stations.revoke.why")} value={why} onChange={setWhy} />
          <HoldButton look="grave" wide big name={t("stations.revoke.hold")} onHeld={() => void run(() => client.revoke(of.device, why.trim()), onClose)}>{t("stations.revoke.hold")}</HoldButton>
        </section>
      )}
    </Sheet>
  );
}
