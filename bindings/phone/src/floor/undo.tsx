// What was just done, for ten seconds, with one big button that takes it back.
import { signal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { act, refusal } from "../live.ts";
import type { Station } from "@tailcomb/web";
import type { Told } from "@tailcomb/web/types";
import type { StationError } from "../station.ts";
import { Shape } from "../ui/shape.tsx";
import { t } from "../words/index.ts";
import { refused, told } from "../words/told.ts";

export const UNDO_MS = 10_000;

interface Done { id: number; what: string; cautions: Told[]; back: (station: Station) => Promise<unknown>; until: number }
const done = signal<Done | undefined>(undefined);
const failed = signal<StationError | undefined>(undefined);
let count = 0;

/** Does something at once; for ten seconds it can be taken back. */
export async function doUndoably<T extends { cautions?: Told[] }>(what: string, command: (station: Station) => Promise<T>, back: (station: Station, made: T) => Promise<unknown>): Promise<void> {
  failed.value = undefined;
  try {
    const made = await act(command);
    count += 1;
    done.value = { id: count, what, cautions: made.cautions ?? [], back: (station) => back(station, made), until: Date.now() + UNDO_MS };
  } catch (error) {
    failed.value = refusal(error);
  }
}
export function say(error: unknown): void { failed.value = refusal(error); }

/** Takes the place of another key while there is something to take back or to be told. */
export function UndoKey({ otherwise }: { otherwise: ComponentChildren }) {
  const last = done.value;
  const error = failed.value;
  const [left, setLeft] = useState(0);
  useEffect(() => {
    if (!last) return;
    const look = () => {
      const seconds = Math.ceil((last.until - Date.now()) / 1000);
      setLeft(seconds);
      if (seconds <= 0 && done.peek()?.id === last.id) done.value = undefined;
    };
    look();
    const timer = setInterval(look, 250);
    return () => clearInterval(timer);
  }, [last?.id]);
  if (error) {
    return (
      <button type="button" class="tile undo" onClick={() => { failed.value = undefined; }}>
        <span class="top"><Shape of="warn" size={22} /><span class="word">{t("trouble.title")}</span></span>
        <span class="name" role="alert">{refused(error)}</span>
      </button>
    );
  }
  if (!last) return <>{otherwise}</>;
  const back = () => {
    done.value = undefined;
    void act(last.back).catch(say);
  };
  return (
    <button type="button" class="tile undo" onClick={back}>
      <span class="top"><Shape of="undo" size={22} /><span class="word">{t("do.undo")}</span><span class="end" aria-hidden="true">{left} s</span></span>
      <span class="name" role="status">{last.what}</span>
      {last.cautions.map((caution) => <span key={caution.text} class="whose">{told(caution)}</span>)}
    </button>
  );
}
