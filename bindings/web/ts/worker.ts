// The worker that holds the station: the core, its storage, and the exchanges with the relay.
/// <reference lib="webworker" />
import init, { Core, type Post } from "../pkg/core.js";
import wasmUrl from "../pkg/core_bg.wasm?url";
import { storeKey } from "./key.ts";
import { FOLDER, type Asked, type Happening, type Refusal, type Standing, type Told } from "./protocol.ts";

/** How long a pull waits at the relay for news. */
const LIVE_WAIT_MS = 25_000;
/** How long a photograph that could not be sent waits. */
const PHOTO_LATER_MS = 20_000;
/** How often, and how long each time, an invitation waits for the relay to hear of a salon just founded. */
const FOUNDING_TRIES = 50;
const FOUNDING_TRY_MS = 100;
const FOR_GOOD = -1;
const LOCK = "tailcomb station";
const port = self as unknown as DedicatedWorkerGlobalScope;
const tabs = new BroadcastChannel("tailcomb tabs");

let core: Core | undefined;
let paused = false;
let photoNudge = () => {};
const nudges = new Map<boolean, () => void>();

const tell = (told: Told) => port.postMessage(told);
const stand = (standing: Standing, why?: Refusal) => tell(why ? { standing, why } : { standing });

function refusal(error: unknown): Refusal {
  if (typeof error === "string") {
    try {
      return JSON.parse(error) as Refusal;
    } catch {
      return { code: "host", message: error };
    }
  }
  return { code: "host", message: error instanceof Error ? error.message : String(error) };
}

/** A trap leaves the core in pieces: the page starts another worker, which reads everything from storage again. */
function trapped(error: unknown): boolean {
  if (!(error instanceof WebAssembly.RuntimeError)) return false;
  core = undefined;
  tell({ trapped: error.message });
  return true;
}

function held(): Core {
  if (!core) throw JSON.stringify({ code: "elsewhere", message: "another page of this browser holds the station" });
  return core;
}

async function post(request: Post): Promise<Uint8Array> {
  const ends = AbortSignal.timeout(request.timeout_ms);
  // Always the relay that the app came from: what a page may reach is what it was served by.
  const answer = await fetch(new URL(`/v1/${request.name}`, self.location.origin), {
    method: "POST", headers: { "content-type": "application/cbor" }, body: request.body() as BodyInit,
    signal: ends, cache: "no-store", credentials: "omit",
  });
  return new Uint8Array(await answer.arrayBuffer());
}

function nudge(push: boolean) {
  nudges.get(push)?.();
}

function rest(push: boolean, ms: number): Promise<void> {
  return new Promise((done) => {
    const end = () => { clearTimeout(timer); nudges.delete(push); done(); };
    const timer = setTimeout(end, ms);
    nudges.set(push, end);
  });
}

async function lane(push: boolean): Promise<void> {
  const mine = core;
  while (core && core === mine) {
    try {
      const request = paused ? undefined : mine.next_request(push, LIVE_WAIT_MS);
      if (!request) {
        await rest(push, Math.min(mine.wait_before(push) ?? 5_000, 15_000));
        continue;
      }
      const ticket = request.ticket;
      let answer: Uint8Array | undefined;
      try {
        answer = await post(request);
      } catch {
        // No answer: the core is told, and says when to ask again.
      }
      if (core !== mine) return;
      const told = answer ? mine.answered(push, ticket, answer) : mine.failed(push, ticket, false);
      tell({ happened: JSON.parse(told) as Happening[] });
      nudge(!push);
    } catch (error) {
      if (trapped(error)) return;
      // This station's own storage refuses. Nothing is lost; ask again, slowly.
      await rest(push, 2_000);
    }
  }
}

/** Photographs go one by one beside the lanes, so that none holds up a timer. */
async function photos(): Promise<void> {
  const mine = core;
  while (core && core === mine) {
    let wait = FOR_GOOD;
    try {
      const request = mine.next_photo();
      if (request) {
        wait = PHOTO_LATER_MS;
        const photo = request.photo;
        const answer = await post(request);
        if (core !== mine) return;
        mine.photo_answered(photo, answer);
        tell({ happened: [{ what: "status" }] });
        continue;
      }
    } catch (error) {
      if (trapped(error)) return;
      // Refused, or not reached: it stays here and is in the status.
      tell({ happened: [{ what: "status" }] });
    }
    await new Promise<void>((done) => {
      const timer = wait === FOR_GOOD ? undefined : setTimeout(done, wait);
      photoNudge = () => { clearTimeout(timer); done(); };
    });
  }
}

function begin() {
  stand("station");
  void photos();
  void lane(true);
  void lane(false);
}

async function admit(station: string): Promise<void> {
  for (;;) {
    const answer = await reached(held().join_request());
    if (held().join_answered(answer, station)) return begin();
  }
}

/** A salon just founded is told to the relay by the next exchange; an invitation waits for that, and not for long. */
async function relayKnows(): Promise<void> {
  if (held().relay_knows()) return;
  held().try_at_once();
  for (let tries = 0; tries < FOUNDING_TRIES && !held().relay_knows(); tries++) {
    nudge(true);
    await new Promise((done) => setTimeout(done, FOUNDING_TRY_MS));
  }
}

async function errand(request: Post): Promise<void> {
  Core.errand_answered(await reached(request));
}

/** The relay's answer, or the refusal that a person reads. */
async function reached(request: Post): Promise<Uint8Array> {
  try {
    return await post(request);
  } catch {
    throw JSON.stringify({ code: "unreachable", message: "the relay does not answer: check that this device is on its network" });
  }
}

/** Arguments as the core reads them: JSON, in which bytes are a text with a character for each. */
function written(args: unknown[]): string {
  return JSON.stringify(args, (_, value: unknown) => (value instanceof Uint8Array ? characters(value) : value));
}

/** How many bytes become characters at once: as many arguments as a function surely takes. */
const PIECE = 8_192;
function characters(bytes: Uint8Array): string {
  let text = "";
  for (let at = 0; at < bytes.length; at += PIECE) text += String.fromCharCode(...bytes.subarray(at, at + PIECE));
  return text;
}

async function work(asked: Asked): Promise<unknown> {
  switch (asked.do) {
    case "call":
      return JSON.parse(held().call(asked.name, written(asked.args)));
    case "found": {
      const words = held().found(JSON.stringify(asked.made));
      begin();
      return words;
    }
    case "join":
      held().join(asked.link);
      return admit(asked.station);
    case "recover":
      held().recover(asked.words, self.location.origin);
      return admit(asked.station);
    case "invite": {
      await relayKnows();
      const request = held().invite();
      await errand(request);
      return request.link;
    }
    case "revoke":
      await errand(held().revoke_request(asked.device));
      held().revoked(asked.device, asked.why);
      return undefined;
    case "keepPhoto": {
      const name = held().keep_photo(asked.visit, JSON.stringify(asked.of), asked.note, asked.picture);
      photoNudge();
      return name;
    }
    case "photo": {
      const here = held().photo_here(asked.visit, asked.photo);
      if (here) return here;
      const request = held().fetch_photo(asked.visit, asked.photo);
      return held().photo_fetched(asked.visit, asked.photo, await reached(request));
    }
    case "tryAtOnce":
      held().try_at_once();
      photoNudge();
      nudge(true);
      nudge(false);
      return undefined;
    case "pause":
      paused = true;
      held().pause();
      tell({ happened: [{ what: "status" }] });
      return undefined;
    case "resume":
      held().resume();
      paused = false;
      tell({ happened: [{ what: "status" }] });
      photoNudge();
      nudge(true);
      nudge(false);
      return undefined;
    case "takeOver":
      tabs.postMessage("hand over");
      return undefined;
    case "ping":
      return undefined;
  }
}

port.onmessage = async (event: MessageEvent<Asked>) => {
  const { id } = event.data;
  const before = core?.written();
  try {
    tell({ id, ok: await work(event.data) });
  } catch (error) {
    if (!trapped(error)) tell({ id, refused: refusal(error) });
  }
  if (!core || core.written() === before) return;
  // Something was written: it wants to be sent, and the status says so.
  nudge(true);
  tell({ happened: [{ what: "status" }] });
};

tabs.onmessage = () => {
  if (!core) return;
  // Ending this worker gives storage and lock back at once; whatever was acknowledged is on the disk already.
  stand("elsewhere");
  self.close();
};

async function open(): Promise<void> {
  try {
    await init({ module_or_path: wasmUrl });
    core = await Core.open(FOLDER, await storeKey());
    if (core.is_station()) begin();
    else stand("empty");
  } catch (error) {
    if (!trapped(error)) stand("failed", refusal(error));
  }
}

const forGood = () => new Promise<never>(() => {});
void navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => {
  if (lock) {
    await open();
    return forGood();
  }
  stand("elsewhere");
  void navigator.locks.request(LOCK, async () => {
    stand("opening");
    await open();
    return forGood();
  });
  return undefined;
});
