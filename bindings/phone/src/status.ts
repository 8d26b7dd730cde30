// How this station stands with the others, in words; on every screen.
import { computed } from "@preact/signals";
import { always } from "./live.ts";
import { onHappened, restarts } from "./station.ts";
import { zone } from "./time.ts";
import { clockTime, t } from "./words/index.ts";
import { told } from "./words/told.ts";
import type { Status } from "@tailcomb/web/types";

const asked = always((station) => station.status());

onHappened((happenings) => { if (happenings.some((one) => one.what === "status")) void asked.again(); });
setInterval(() => void asked.again(), 10_000);

/** The core forgets when it met the others once its worker ends; a reload in flight mode must not say "never". */
const MET = "last met";
function lastMet(status: Status): number | undefined {
  if (status.last_met_ms !== null) {
    localStorage.setItem(MET, String(status.last_met_ms));
    return status.last_met_ms;
  }
  return Number(localStorage.getItem(MET)) || undefined;
}

function words(status: Status): { text: string; matters: boolean } {
  if (status.refused) return { text: t("status.refused", { why: told(status.refused) }), matters: true };
  const parts = [t("status.all_saved")];
  parts.push(status.unsent > 0 ? t("status.unsent", { n: status.unsent }) : t("status.all_sent"));
  if (status.photos_unsent > 0) parts.push(t("status.photos", { n: status.photos_unsent }));
  const met = lastMet(status);
  parts.push(met === undefined ? t("status.never_met") : t("status.met", { time: clockTime(met, zone.value) }));
  if (status.photo_refused) parts.push(t("status.photo_refused", { why: told(status.photo_refused) }));
  if (status.paused) parts.push(t("status.paused"));
  else if (!status.reachable) parts.push(t("status.no_network"));
  if (status.checking_relay) parts.push(t("status.checking"));
  if (status.waiting > 0) parts.push(t("status.waiting", { n: status.waiting }));
  if (status.set_aside > 0) parts.push(t("status.set_aside", { n: status.set_aside }));
  return { text: parts.join(" · "), matters: status.set_aside > 0 || status.photo_refused !== null };
}

const known = computed(() => (asked.answer.value.state === "waiting" ? undefined : asked.answer.value.value));
/** How much waits here to be sent. */
export const unsent = computed(() => known.value?.unsent ?? 0);
export const photosUnsent = computed(() => known.value?.photos_unsent ?? 0);

export const status = computed(() => {
  const said = known.value ? words(known.value) : { text: t("wait.reading"), matters: false };
  return restarts.value > 0 ? { ...said, text: `${said.text} · ${t("status.restarted")}` } : said;
});
