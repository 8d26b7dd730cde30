// The one client of this page: the worker that holds the core, and where this page stands with it.
import { signal } from "@preact/signals";
import { Client, StationError, type Happening, type Refusal, type Standing } from "@tailcomb/web";

export { StationError };
export type * from "@tailcomb/web/types";

/** Browsers give workers and storage to secure origins only. */
export const secure = window.isSecureContext && "storage" in navigator;

export const standing = signal<Standing>("opening");
export const why = signal<Refusal | undefined>(undefined);
export const restarts = signal(0);

/** An insecure page has no storage to give to a worker; then nothing is ever called. */
export const client = secure ? new Client() : (undefined as unknown as Client);

if (secure) {
  standing.value = client.standing;
  client.onStanding((now) => {
    restarts.value = client.restarts;
    why.value = client.why;
    standing.value = now;
  });
}

export const onHappened = (call: (happenings: Happening[]) => void) => (secure ? client.onHappened(call) : () => {});
