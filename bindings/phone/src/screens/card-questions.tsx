// The standing questions: on the card, or asked anew at a visit (what is said there goes on the card too).
import { useAct, useLive } from "../live.ts";
import { go, to } from "../route.ts";
import { t } from "../words/index.ts";
import { Screen, Show } from "../ui/frame.tsx";
import { Questions } from "../ui/questions.tsx";
import { Work } from "../ui/work.tsx";

export function CardQuestions({ id }: { id: string }) {
  const live = useLive(`card ${id}`, (station) => station.client(id), [id]);
  const { busy, error, run } = useAct();
  return (
    <Screen title={t("ask.title")} back={to("client", id)}>
      <Show live={live}>{(card) => <Questions of={card.screening} busy={busy} error={error} onSave={(answers) => void run((station) => station.answerQuestions(id, answers), () => go("client", id))} />}</Show>
    </Screen>
  );
}

export function VisitQuestions({ id }: { id: string }) {
  const live = useLive(`visit ${id}`, (station) => station.visit(id), [id]);
  const { busy, error, run } = useAct();
  return (
    <Screen title={t("ask.today")} back={to("visit", id)}>
      <p class="quiet">{t("ask.lead")}</p>
      <Show live={live}>{(visit) => <Work view={visit}><Questions of={visit.screening} busy={busy} error={error} onSave={(answers) => void run((station) => station.screen(id, answers), () => go("visit", id))} /></Work>}</Show>
    </Screen>
  );
}
