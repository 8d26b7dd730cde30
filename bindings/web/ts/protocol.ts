// What the page and the worker say to each other.
import type { PhotoOf, Role, Told as Said } from "./types.ts";

/** Where in the origin's files the station lies. */
export const FOLDER = ".tailcomb";

/** What it takes to found a salon. `relay_url` is what invitations will carry. */
export interface Founding {
  name: string; zone: string; relay_url: string; station: string; person: string; role: Role;
}

/** What happened at this station; ask again for whatever a screen shows. */
export type Happening =
  | { what: "changed"; docs: string[] }
  | { what: "status" }
  | { what: "clock_jumped"; by_ms: number }
  | { what: "new_incarnation" }
  | { what: "relay_had_lost"; changes: number }
  | { what: "erased"; docs: string[]; unsent: number };

/** Where this page stands with the station's storage, which one page at a time can hold. */
export type Standing = "opening" | "elsewhere" | "empty" | "station" | "failed";

/** `message` is English; `said` the same for whoever writes it in another language, where the core said it. */
export interface Refusal { code: string; message: string; said?: Said }

export type Asked =
  | { id: number; do: "call"; name: string; args: unknown[] }
  | { id: number; do: "found"; made: Founding }
  | { id: number; do: "join"; link: string; station: string }
  | { id: number; do: "recover"; words: string; station: string }
  | { id: number; do: "invite" }
  | { id: number; do: "revoke"; device: string; why: string }
  | { id: number; do: "keepPhoto"; visit: string; of: PhotoOf; note: string; picture: Uint8Array }
  | { id: number; do: "photo"; visit: string; photo: string }
  | { id: number; do: "tryAtOnce" }
  | { id: number; do: "pause" }
  | { id: number; do: "resume" }
  | { id: number; do: "takeOver" }
  | { id: number; do: "ping" };

export type Told =
  | { id: number; ok: unknown }
  | { id: number; refused: Refusal }
  | { trapped: string }
  | { standing: Standing; why?: Refusal }
  | { happened: Happening[] };
