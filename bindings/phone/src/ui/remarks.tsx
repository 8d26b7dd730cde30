// Remarks and reasons beside what they are about, for teaching; anybody may leave one.
import { useState } from "preact/hooks";
import type { RemarkKind, VisitView } from "@tailcomb/web/types";
import { useAct } from "../live.ts";
import { personName } from "../time.ts";
import { t } from "../words/index.ts";
import { listed } from "../work/said.ts";
import { Choice, Field, Form } from "./form.tsx";
import { Sheet, Trouble } from "./frame.tsx";
import { Button } from "./press.tsx";

export function Remarks({ visit, view, on, entry }: { visit: string; view: VisitView; on: string; entry: string }) {
  const [writing, setWriting] = useState(false);
  const here = listed(view.remarks ?? []).filter((one) => one.value.on === on && one.value.entry === entry);
  return (
    <div class="remarks">
      {here.map(({ id, value, item }) => <blockquote key={id}><span class="small quiet">{t(`remark.${value.kind}`)} · {personName(item.said.versions.at(-1)!.by)}</span><p>{value.text}</p></blockquote>)}
      <Button look="quiet" onPress={() => setWriting(true)}>{t("remark.add")}</Button>
      {writing && <Write visit={visit} on={on} entry={entry} onClose={() => setWriting(false)} />}
    </div>
  );
}

function Write({ visit, on, entry, onClose }: { visit: string; on: string; entry: string; onClose: () => void }) {
  const [kind, setKind] = useState<RemarkKind>("remark");
  const [text, setText] = useState("");
  const { busy, error, run } = useAct();
  return (
    <Sheet title={t("remark.add")} onClose={onClose}>
      <Form onSubmit={() => void run((station) => station.remark(visit, { on, entry, kind, text: text.trim() }), onClose)}>
        <Choice label={t("remark.kind")} value={kind} onChange={setKind} options={(["remark", "why"] as const).map((one) => ({ value: one, text: t(`remark.${one}`) }))} />
        <Field label={t(`remark.${kind}`)} value={text} onChange={setText} lines={3} />
        <Trouble error={error} />
        <Button look="main" big wide submit busy={busy} disabled={!text.trim()}>{t("do.save")}</Button>
      </Form>
    </Sheet>
  );
}
