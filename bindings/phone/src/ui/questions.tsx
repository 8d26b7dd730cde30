// The standing questions before colour, answered by taps; every answer can carry the client's own words.
import { useState } from "preact/hooks";
import type { Answer, Answered, StandingQuestion } from "@tailcomb/web/types";
import type { StationError } from "@tailcomb/web";
import { personName, zone } from "../time.ts";
import { day, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Choice, Field } from "./form.tsx";
import { Trouble } from "./frame.tsx";
import { Button } from "./press.tsx";

const answers: readonly Answer[] = ["no", "unsure", "yes"];

interface Props { of: readonly StandingQuestion[]; busy: boolean; error: StationError | undefined; onSave: (answers: [string, Answered][]) => void }
export function Questions({ of, busy, error, onSave }: Props) {
  const [said, setSaid] = useState<Record<string, Answered>>({});
  const unanswered = of.filter((one) => !said[one.key] && one.answered.versions.length === 0);
  const all = Object.entries(said);
  return (
    <div class="stack">
      {unanswered.length > 1 && (
        <Button wide onPress={() => setSaid((before) => ({ ...before, ...Object.fromEntries(unanswered.map((one) => [one.key, { answer: "no" as const, note: "" }])) }))}>{t("ask.all_no")}</Button>
      )}
      {of.map((one) => {
        const before = one.answered.versions.at(-1);
        const now = said[one.key] ?? before?.value;
        const set = (next: Answered) => setSaid((all) => ({ ...all, [one.key]: next }));
        return (
          <div class="card" key={one.key}>
            <Choice label={told(one.text)} value={now?.answer} onChange={(answer) => set({ answer, note: now?.note ?? "" })} options={answers.map((answer) => ({ value: answer, text: t(`answer.${answer}`) }))} />
            {now && now.answer !== "no" && <Field label={t("ask.note")} value={now.note} onChange={(note) => set({ ...now, note })} />}
            {before && !said[one.key] && <span class="quiet small">{personName(before.by)} · {day(before.at.ms, zone.value)}</span>}
          </div>
        );
      })}
      <Trouble error={error} />
      <Button look="main" big wide busy={busy} disabled={all.length === 0} onPress={() => onSave(all)}>{t("ask.save", { n: all.length })}</Button>
    </div>
  );
}
