// Photographs before, during and after: taken or chosen, made small on this phone, kept locked by the station. Whether the client
// agreed to them is asked first.
import { useEffect, useState } from "preact/hooks";
import type { ClientView, Photo, PhotoOf, VisitView } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { client } from "../station.ts";
import { photosUnsent } from "../status.ts";
import { personName, zone } from "../time.ts";
import { clockTime, t } from "../words/index.ts";
import { Reason } from "../ui/ask.tsx";
import { Choice, Field, FileButton } from "../ui/form.tsx";
import { Empty, Note, Screen, Sheet, Show, Trouble, Waiting } from "../ui/frame.tsx";
import { Button, ButtonLink } from "../ui/press.tsx";
import { listed } from "../work/said.ts";
import { small } from "../work/picture.ts";

const kinds: readonly PhotoOf[] = ["before", "during", "after"];

export function Photos({ id }: { id: string }) {
  const live = useLive(`photos ${id}`, async (station) => {
    const view = await station.visit(id);
    return { view, card: view.opening ? await station.client(view.opening.client) : undefined };
  });
  return <Screen title={t("photos.title")} back={to("visit", id)}><Show live={live}>{(shown) => <Pictures id={id} {...shown} />}</Show></Screen>;
}

function Pictures({ id, view, card }: { id: string; view: VisitView; card: ClientView | undefined }) {
  const [chosen, setChosen] = useState<Uint8Array | undefined>();
  const [state, setState] = useState<"" | "making" | "unreadable">("");
  const agreed = card?.consents.some((one) => one.kind === "photos" && one.stands) ?? false;
  const open = async (file: File) => {
    setState("making");
    const bytes = await small(file);
    setState(bytes ? "" : "unreadable");
    setChosen(bytes);
  };
  const photos = listed(view.photos);
  return (
    <>
      {!agreed && card && <Note kind="look"><strong>{t("photos.consent")}</strong><div><ButtonLink href={to("client", card.doc, "contact")}>{t("photos.to_card")}</ButtonLink></div></Note>}
      {photos.length === 0 && <Empty shape="look">{t("photos.none")}</Empty>}
      <div class="photos">
        {photos.map(({ id: entry, value, item }) => { const by = item.said.versions.at(-1)!; return <Shown key={entry} visit={id} entry={entry} photo={value} at={by.at.ms} by={by.by} />; })}
      </div>
      {photosUnsent.value > 0 && <p class="quiet">{t("photos.unsent", { n: photosUnsent.value })}</p>}
      {state === "making" && <Waiting what={t("wait.working")} />}
      {state === "unreadable" && <Note kind="off"><span>{t("photos.unreadable")}</span></Note>}
      {agreed && (
        <>
          <FileButton look="main" big label={t("photos.take")} accept="image/*" capture="environment" onFile={(file) => void open(file)} />
          <FileButton label={t("photos.choose")} accept="image/*" onFile={(file) => void open(file)} />
        </>
      )}
      <p class="quiet small">{t("photos.lead")}</p>
      {chosen && <Keep visit={id} bytes={chosen} first={photos.length === 0 ? "before" : "after"} onClose={() => setChosen(undefined)} />}
    </>
  );
}

/** A picture's address on this page, for as long as it is shown. */
function useAddress(bytes: Uint8Array | undefined): string | undefined {
  const [address, setAddress] = useState<string | undefined>();
  useEffect(() => {
    if (!bytes) return;
    const made = URL.createObjectURL(new Blob([new Uint8Array(bytes)]));
    setAddress(made);
    return () => URL.revokeObjectURL(made);
  }, [bytes]);
  return address;
}

function Keep({ visit, bytes, first, onClose }: { visit: string; bytes: Uint8Array; first: PhotoOf; onClose: () => void }) {
  const [of, setOf] = useState<PhotoOf>(first);
  const [note, setNote] = useState("");
  const { busy, error, run } = useAct();
  const address = useAddress(bytes);
  return (
    <Sheet title={t("photos.keep")} onClose={onClose}>
      {address && <img class="photo" src={address} alt="" />}
      <Choice label={t("photos.of")} value={of} onChange={setOf} options={kinds.map((one) => ({ value: one, text: t(`photo.${one}`) }))} />
      <Field label={t("field.note")} value={note} onChange={setNote} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} onPress={() => void run(() => client.keepPhoto(visit, of, note.trim(), bytes), onClose)}>{t("photos.keep")}</Button>
    </Sheet>
  );
}

function Shown({ visit, entry, photo, at, by }: { visit: string; entry: string; photo: Photo; at: number; by: string }) {
  const [bytes, setBytes] = useState<Uint8Array | "asked" | "not_here">("asked");
  const [removing, setRemoving] = useState(false);
  const { error, run } = useAct();
  const ask = () => { setBytes("asked"); client.photo(visit, entry).then(setBytes, () => setBytes("not_here")); };
  useEffect(ask, [visit, entry]);
  const address = useAddress(bytes instanceof Uint8Array ? bytes : undefined);
  const told = t("photos.alt", { of: t(`photo.${photo.of}`), time: clockTime(at, zone.value) });
  return (
    <figure class="card">
      {bytes === "asked" && <Waiting />}
      {bytes === "not_here" && <div class="stack near"><p>{t("photos.not_here")}</p><div><Button onPress={ask}>{t("do.again")}</Button></div></div>}
      {address && <img class="photo" src={address} alt={told} />}
      <figcaption class="part-head"><span><strong>{told}</strong> {[photo.note, personName(by)].filter(Boolean).join(" · ")}</span><Button look="quiet" onPress={() => setRemoving(true)}>{t("do.remove")}</Button></figcaption>
      {removing && <Reason title={t("do.remove")} go={t("do.remove")} needed={false} error={error} onClose={() => setRemoving(false)} onGo={(why) => void run((station) => station.removePhoto(visit, entry, why), () => setRemoving(false))} />}
    </figure>
  );
}
