// The people of the salon: who works here, as what, and who has left.
import { useState } from "preact/hooks";
import type { Person, Role } from "@tailcomb/web/types";
import { useAct, useLive } from "../live.ts";
import { said } from "../time.ts";
import { Choice, Field } from "../ui/form.tsx";
import { Row, Rows, Sheet, Show, Trouble } from "../ui/frame.tsx";
import { Button, HoldButton } from "../ui/press.tsx";
import { roleChoices } from "../ui/roles.ts";
import { t } from "../words/index.ts";

export function People() {
  const live = useLive("people", (station) => station.salon());
  const [open, setOpen] = useState<string | undefined>();
  const people = live.state === "waiting" ? [] : (live.value?.people ?? []);
  const one = people.find((each) => each.id === open);
  return (
    <section class="stack near" aria-labelledby="s-people">
      <h2 id="s-people">{t("settings.people")}</h2>
      <Show live={live}>
        {() => (
          <Rows>
            {people.map((each) => (
              <Row key={each.id} shape="people" title={said(each.name) ?? "?"} detail={t(`role.${said(each.role) ?? "associate"}`)}
                end={said(each.active) === false ? t("settings.people.left") : undefined} onPress={() => setOpen(each.id)} />
            ))}
          </Rows>
        )}
      </Show>
      <Button wide onPress={() => setOpen("")}>{t("settings.people.add")}</Button>
      {open !== undefined && <Somebody key={open} of={one} onClose={() => setOpen(undefined)} />}
    </section>
  );
}

function Somebody({ of, onClose }: { of: Person | undefined; onClose: () => void }) {
  const before = { name: said(of?.name) ?? "", role: said(of?.role) ?? "stylist" };
  const [name, setName] = useState(before.name);
  const [role, setRole] = useState<Role>(before.role);
  const { busy, error, run } = useAct();
  const here = said(of?.active) !== false;
  const save = () => void run(async (station) => {
    if (!of) return void (await station.addPerson(name.trim(), role));
    if (name.trim() !== before.name) await station.renamePerson(of.id, name.trim());
    if (role !== before.role) await station.setRole(of.id, role);
  }, onClose);
  return (
    <Sheet title={of ? before.name : t("settings.people.add")} onClose={onClose}>
      <Field label={t("settings.people.name")} value={name} onChange={setName} />
      <Choice label={t("found.role")} value={role} options={roleChoices()} onChange={setRole} />
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} disabled={!name.trim()} onPress={save}>{of ? t("do.save") : t("do.add")}</Button>
      {of && (here
        ? <HoldButton look="grave" wide name={t("settings.people.leave")} onHeld={() => void run((station) => station.setActive(of.id, false), onClose)}>{t("settings.people.leave")}</HoldButton>
        : <Button wide onPress={() => void run((station) => station.setActive(of.id, true), onClose)}>{t("settings.people.back")}</Button>)}
    </Sheet>
  );
}
