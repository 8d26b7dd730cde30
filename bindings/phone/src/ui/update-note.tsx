// Says that a newer version is here. It is never started while a timer runs: an alarm must not fall into a reload.
import { timersRun } from "../alarm/alarms.ts";
import { newer, startNewer } from "../update.ts";
import { t } from "../words/index.ts";
import { Button } from "./press.tsx";

export function UpdateNote() {
  if (!newer.value) return null;
  return (
    <div class="toast" role="status">
      <span>{timersRun.value ? t("update.waits") : t("update.ready")}</span>
      {!timersRun.value && <Button onPress={startNewer}>{t("update.take")}</Button>}
    </div>
  );
}
