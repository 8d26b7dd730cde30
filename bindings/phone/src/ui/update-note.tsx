// Says that a newer version is here. It is never started while a timer runs: an alarm must not fall into a reload.
import { computed } from "@preact/signals";
import { always } from "../live.ts";
import { newer, startNewer } from "../update.ts";
import { t } from "../words/index.ts";
import { Button } from "./press.tsx";

const alarms = always((station) => station.nextAlarms(1));
/** Whether anything runs or rings. Not known yet counts as running. */
export const timersRun = computed(() => {
  const answer = alarms.answer.value;
  return answer.state !== "here" || answer.value.length > 0;
});

export function UpdateNote() {
  if (!newer.value) return null;
  return (
    <div class="toast" role="status">
      <span>{timersRun.value ? t("update.waits") : t("update.ready")}</span>
      {!timersRun.value && <Button onPress={startNewer}>{t("update.take")}</Button>}
    </div>
  );
}
