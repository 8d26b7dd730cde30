// What screens show is asked of the station, and asked again whenever something happened. Nothing is cached past the
// screen that shows it, and nothing is computed here.
import { batch, signal, type ReadonlySignal, type Signal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { client, onHappened, standing, StationError } from "./station.ts";
import type { Station } from "@tailcomb/web";

export type Live<T> =
  | { state: "waiting" }
  | { state: "here"; value: T }
  /** `value` is what was known before. */
  | { state: "refused"; error: StationError; value?: T };

type Ask<T> = (station: Station) => Promise<T>;

export const refusal = (error: unknown): StationError =>
  error instanceof StationError ? error : new StationError({ code: "host", message: error instanceof Error ? error.message : String(error) });

/** The first news is followed at once, what comes on its heels this much later: a busy floor must not keep a phone asking. */
const REST_MS = 120;

/** One question that is asked again. Several callers at once ask it once, and once more if news came meanwhile. */
class Question<T> {
  readonly answer: Signal<Live<T>> = signal({ state: "waiting" });
  #asking = false;
  #stale = false;
  constructor(readonly ask: Ask<T>, readonly about: readonly string[] | undefined) {}

  /** Whether news of these documents can change the answer. */
  concerns(docs: readonly string[] | undefined): boolean {
    return !docs || !this.about || docs.some((doc) => this.about?.includes(doc));
  }

  async again(): Promise<void> {
    if (standing.peek() !== "station") return;
    if (this.#asking) {
      this.#stale = true;
      return;
    }
    this.#asking = true;
    do {
      this.#stale = false;
      try {
        this.answer.value = { state: "here", value: await this.ask(client.station) };
      } catch (error) {
        const before = this.answer.value, refused = refusal(error);
        // What is not there any more was erased, and must not stay on the screen.
        const known = before.state !== "waiting" && "value" in before && refused.code !== "not-found";
        this.answer.value = { state: "refused", error: refused, ...(known ? { value: before.value } : {}) };
      }
      if (this.#stale) await new Promise((done) => setTimeout(done, REST_MS));
    } while (this.#stale);
    this.#asking = false;
  }
}

const shown = new Set<Question<unknown>>();

/** Asks again everything that is on the screen, or what concerns these documents. */
export function askAgain(docs?: readonly string[]): void {
  batch(() => {
    for (const question of shown) if (question.concerns(docs)) void question.again();
  });
}

onHappened((happenings) => {
  for (const happening of happenings) {
    if (happening.what === "changed" || happening.what === "erased") askAgain(happening.docs);
    // Of how this station stands only the status is read, and that looks by itself.
    else if (happening.what !== "status") askAgain();
  }
});
standing.subscribe((now) => { if (now === "station") askAgain(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) askAgain(); });

/**
 * Asks the station, and again on news. `key` names the question: when it changes, so does what is asked. `about` lists the
 * documents that the answer is read from; without it any news makes it ask again.
 */
export function useLive<T>(key: string, ask: Ask<T>, about?: readonly string[]): Live<T> {
  const [held, hold] = useState<{ key: string; question: Question<T> }>(() => ({ key, question: new Question(ask, about) }));
  let question = held.question;
  if (held.key !== key) {
    question = new Question(ask, about);
    hold({ key, question });
  }
  useEffect(() => {
    shown.add(question as Question<unknown>);
    void question.again();
    return () => void shown.delete(question as Question<unknown>);
  }, [question]);
  return question.answer.value;
}

/** A question that is on the screen for as long as the page is. */
export function always<T>(ask: Ask<T>): { readonly answer: ReadonlySignal<Live<T>>; again: () => Promise<void> } {
  const question = new Question(ask, undefined);
  shown.add(question as Question<unknown>);
  void question.again();
  return question;
}

/** Does something at the station, then asks again whatever is shown. The promise is kept once it is on the disk. */
export async function act<T>(command: Ask<T>): Promise<T> {
  try {
    return await command(client.station);
  } catch (error) {
    throw refusal(error);
  } finally {
    askAgain();
  }
}

/** An action with its state, for buttons: `run` does it once at a time, `error` holds why it was refused. */
export function useAct() {
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState<StationError | undefined>();
  const run = async <T,>(command: Ask<T>, then?: (value: T) => void) => {
    if (busy) return;
    setBusy(true);
    setError(undefined);
    try {
      const value = await act(command);
      then?.(value);
    } catch (refused) {
      setError(refusal(refused));
    } finally {
      setBusy(false);
    }
  };
  return { busy, error, run, forget: () => setError(undefined) };
}
