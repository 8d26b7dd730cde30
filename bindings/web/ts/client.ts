// What an app holds: the station's methods as promises, and word of what happens.
import { forgetKey } from "./key.ts";
import { FOLDER, type Asked, type Founding, type Happening, type Refusal, type Standing, type Told } from "./protocol.ts";
import type { PhotoOf, StationMethods } from "./types.ts";

export type * from "./types.ts";
export type { Founding, Happening, Refusal, Standing };

/** The station said no. Nothing was changed. */
export class StationError extends Error {
  readonly code: string;
  /** For an app that speaks other languages; missing where the core said nothing. */
  readonly said: Refusal["said"];
  constructor({ code, message, said }: Refusal) {
    super(message);
    this.name = "StationError";
    this.code = code;
    this.said = said;
  }
}

type Later<F> = F extends (...args: infer A) => infer R ? (...args: A) => Promise<R> : never;
/** Every method of the station; each is durable when its promise is kept. */
export type Station = { readonly [M in keyof StationMethods]: Later<StationMethods[M]> };

type Without<T> = T extends unknown ? Omit<T, "id"> : never;
type Waiting = { keep: (value: unknown) => void; breakIt: (error: StationError) => void };

/** How long a worker may keep silent before it counts as killed. */
const SILENCE_MS = 10_000;
/** How often it is tried to take away files that a worker which just ended may hold for a moment. */
const TRIES = 20;

export class Client {
  /** The station's methods. */
  readonly station: Station;
  #worker: Worker | undefined;
  #standing: Standing = "opening";
  #why: Refusal | undefined;
  #next = 1;
  #restarts = 0;
  #waiting = new Map<number, Waiting>();
  #happened = new Set<(happenings: Happening[]) => void>();
  #stood = new Set<(standing: Standing) => void>();

  constructor() {
    this.station = new Proxy({} as Station, {
      get: (_, name) => (...args: unknown[]) => this.#ask({ do: "call", name: String(name), args }),
    });
    this.#start();
    setInterval(() => void this.#look(), SILENCE_MS);
    // So that the browser does not throw the record away when room is short.
    void navigator.storage?.persist?.();
    self.addEventListener("online", () => void this.#ask({ do: "tryAtOnce" }).catch(() => {}));
  }

  get standing(): Standing { return this.#standing; }
  /** Why it failed, where it failed. */
  get why(): Refusal | undefined { return this.#why; }
  /** How often a worker had to be started again. */
  get restarts(): number { return this.#restarts; }

  /** Calls back with what happens from now on: what others did, and after each command and exchange
   * that the status changed. What a command changed is not told: whoever gave it knows. */
  onHappened(call: (happenings: Happening[]) => void): () => void {
    this.#happened.add(call);
    return () => this.#happened.delete(call);
  }

  onStanding(call: (standing: Standing) => void): () => void {
    this.#stood.add(call);
    return () => this.#stood.delete(call);
  }

  /** Founds a salon; gives the recovery words, to be written down: they are kept nowhere. */
  found(made: Founding): Promise<string> { return this.#ask({ do: "found", made }) as Promise<string>; }
  /** Joins by the link that a station of the salon shows; `station` is what this one is called. */
  join(link: string, station: string): Promise<void> { return this.#ask({ do: "join", link, station }) as Promise<void>; }
  /** Joins by the printed recovery words. */
  recover(words: string, station: string): Promise<void> { return this.#ask({ do: "recover", words, station }) as Promise<void>; }
  /** Makes an invitation: a link, good once, for ten minutes. Needs the relay. */
  invite(): Promise<string> { return this.#ask({ do: "invite" }) as Promise<string>; }
  /** Has the relay refuse a station from now on. Needs the relay. */
  revoke(device: string, why: string): Promise<void> { return this.#ask({ do: "revoke", device, why }) as Promise<void>; }
  /** Keeps a photograph, a JPEG, PNG or WebP file of less than 1 MiB, as it is: what a camera wrote into it must be out
   * of it already. Gives its name on the visit. It goes to the relay when that can be reached. */
  keepPhoto(visit: string, of: PhotoOf, note: string, picture: Uint8Array): Promise<string> {
    return this.#ask({ do: "keepPhoto", visit, of, note, picture }) as Promise<string>;
  }
  /** The picture of a photograph; asked of the relay where it is not here. Its kind stands on the visit. */
  photo(visit: string, photo: string): Promise<Uint8Array> { return this.#ask({ do: "photo", visit, photo }) as Promise<Uint8Array>; }
  /** Asks the relay now instead of after the wait. */
  tryAtOnce(): Promise<void> { return this.#ask({ do: "tryAtOnce" }) as Promise<void>; }
  pause(): Promise<void> { return this.#ask({ do: "pause" }) as Promise<void>; }
  resume(): Promise<void> { return this.#ask({ do: "resume" }) as Promise<void>; }
  /** Asks the page that holds the station to hand it over to this one. */
  takeOver(): Promise<void> { return this.#ask({ do: "takeOver" }) as Promise<void>; }

  /** Gives up what lies here and cannot be opened any more (standing `failed`), so that this device can join again. What it
   * had not sent is lost. */
  async beginAnew(): Promise<void> {
    if (this.#standing !== "failed") throw new StationError({ code: "station-exists", message: "what lies here can still be opened" });
    this.#worker?.terminate();
    this.#worker = undefined;
    const files = await navigator.storage.getDirectory();
    for (let tries = 1; ; tries++) {
      try {
        await files.removeEntry(FOLDER, { recursive: true });
        break;
      } catch (error) {
        if (error instanceof DOMException && error.name === "NotFoundError") break;
        if (tries === TRIES) throw error;
        await new Promise((done) => setTimeout(done, 100));
      }
    }
    await forgetKey();
    this.#why = undefined;
    this.#stand("opening");
    this.#start();
  }

  #ask(asked: Without<Asked>): Promise<unknown> {
    const id = this.#next++;
    return new Promise((keep, breakIt) => {
      this.#waiting.set(id, { keep, breakIt });
      this.#worker?.postMessage({ ...asked, id });
    });
  }

  #start() {
    const worker = new Worker(new URL("./worker.ts", import.meta.url), { type: "module", name: "station" });
    this.#worker = worker;
    worker.onmessage = (event: MessageEvent<Told>) => {
      if (this.#worker === worker) this.#heard(event.data);
    };
    worker.onerror = () => { if (this.#worker === worker) this.#again(); };
  }

  /** What was acknowledged is on the disk. What was not is said to have failed, and the station is read again. */
  #again() {
    this.#worker?.terminate();
    this.#restarts += 1;
    const waiting = [...this.#waiting.values()];
    this.#waiting.clear();
    this.#stand("opening");
    this.#start();
    const lost = { code: "interrupted", message: "the app had to start again in the middle of this: look whether it was done" };
    for (const { breakIt } of waiting) breakIt(new StationError(lost));
  }

  #heard(told: Told) {
    if ("id" in told) {
      const waiting = this.#waiting.get(told.id);
      this.#waiting.delete(told.id);
      if ("ok" in told) waiting?.keep(told.ok);
      else waiting?.breakIt(new StationError(told.refused));
    } else if ("trapped" in told) {
      this.#again();
    } else if ("standing" in told) {
      this.#why = told.why;
      // A worker that handed the station over has ended; another waits for its turn to come back.
      if (told.standing === "elsewhere" && this.#standing === "station") this.#start();
      this.#stand(told.standing);
    } else {
      this.#tell(told.happened);
    }
  }

  async #look() {
    const silent = setTimeout(() => this.#again(), SILENCE_MS);
    try {
      await this.#ask({ do: "ping" });
    } catch {
      // It was started again meanwhile.
    }
    clearTimeout(silent);
  }

  #stand(standing: Standing) {
    this.#standing = standing;
    for (const call of this.#stood) call(standing);
  }

  #tell(happenings: Happening[]) {
    for (const call of this.#happened) call(happenings);
  }
}
