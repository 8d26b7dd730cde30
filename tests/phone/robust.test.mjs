// What happens to a phone in a salon, and what must not be lost by it.
import assert from "node:assert/strict";
import { readdir, readFile, stat, writeFile } from "node:fs/promises";
import { join as path } from "node:path";
import { afterEach, beforeEach, test } from "node:test";
import { call, found, join, stands } from "./bench.mjs";
import { House, until } from "./harness.mjs";

const app = "target/phone/bench";
let house;
beforeEach(() => { house = new House(); });
afterEach(() => house.end());

const timer = (label) => ({ kind: "plain", label, length_ms: 3_600_000, check_every_ms: null, sections: [], bowl: null, from: null });
const start = (page, label) => call(page, "startTimer", null, timer(label));
const labels = async (page) => (await call(page, "floor")).timers.map((t) => t.label.text).sort();

/** What begins as a JPEG file does. */
const jpeg = (bytes) => Uint8Array.from({ length: bytes }, (_, n) => [0xff, 0xd8, 0xff][n] ?? (n * 7919) % 251);

async function openVisit(page) {
  const rosa = await call(page, "newClient", "Rosa Valadares", []);
  return call(page, "openVisit", { client: rosa, service: "gloss", planned_at: null, stylist: null, take: true });
}

/** Keeps a picture of so many bytes; what is refused is an error with its code. */
async function keepPhoto(page, visit, bytes) {
  const answer = await page.evaluate(async ([visit, bytes]) => {
    const picture = Uint8Array.from({ length: bytes }, (_, n) => [0xff, 0xd8, 0xff][n] ?? (n * 7919) % 251);
    try {
      return { ok: await client.keepPhoto(visit, "before", "crown", picture) };
    } catch (error) {
      return { code: error.code ?? "?", message: error.message };
    }
  }, [visit, bytes]);
  if ("code" in answer) throw Object.assign(new Error(`${answer.code}: ${answer.message}`), { code: answer.code });
  return answer.ok;
}

/** A phone at which a salon was founded, and its relay. */
async function founded() {
  const relay = await house.relay({ app });
  const phone = await house.phone(relay.url);
  await found(phone.page, relay.url);
  return { relay, phone };
}

test("a reload and a new start of the browser find everything, without a network too", async () => {
  const { relay, phone } = await founded();
  await start(phone.page, "gloss");
  await phone.page.reload();
  await stands(phone.page, "station");
  assert.deepEqual(await labels(phone.page), ["gloss"]);
  await phone.close();
  await phone.start(relay.url);
  await stands(phone.page, "station");
  assert.deepEqual(await labels(phone.page), ["gloss"]);
});

test("a browser that is killed in the middle of work keeps whatever was acknowledged", async () => {
  const { relay, phone } = await founded();
  let kept = [];
  for (let round = 1; round <= 5; round++) {
    await call(phone.page, "signInAs", "Nadia");
    // Starts one timer after the other and notes on the page which were acknowledged, until it is killed.
    await phone.page.exposeFunction("acknowledged", (label) => kept.push(label)).catch(() => {});
    await phone.page.evaluate((round) => {
      (async () => {
        for (let n = 0; ; n++) {
          const label = `r${round} n${n}`;
          await client.station.startTimer(null, { kind: "plain", label, length_ms: 3600000, check_every_ms: null, sections: [], bowl: null, from: null });
          await acknowledged(label);
        }
      })().catch(() => {});
    }, round);
    const before = kept.length;
    await until("some timers are started", () => kept.length >= before + 3 + round);
    await phone.kill();
    await phone.start(relay.url);
    await stands(phone.page, "station");
    const there = new Set(await labels(phone.page));
    const lost = kept.filter((label) => !there.has(label));
    assert.deepEqual(lost, [], `round ${round}`);
  }
  assert.ok(kept.length >= 20, `${kept.length} timers`);
});

test("a worker that ends is missed, started again from storage, and nothing is lost", async () => {
  const { phone } = await founded();
  await start(phone.page, "gloss");
  await phone.worker().evaluate(() => self.close());
  const code = await start(phone.page, "lost").then(() => "kept", (error) => error.code);
  assert.equal(code, "interrupted", "what it was asked meanwhile is said to have failed");
  assert.equal(await phone.page.evaluate(() => client.restarts), 1);
  await stands(phone.page, "station");
  await call(phone.page, "signInAs", "Nadia");
  await start(phone.page, "toner");
  assert.deepEqual(await labels(phone.page), ["gloss", "toner"]);
});

test("a trap of the core restarts it from storage without loss, and the call fails as interrupted", async () => {
  const { phone } = await founded();
  await start(phone.page, "gloss");
  // A core without randomness cannot go on: it panics, and a panic is a trap.
  await phone.worker().evaluate(() => { crypto.getRandomValues = () => { throw new Error("none"); }; });
  const code = await start(phone.page, "lost").then(() => "kept", (error) => error.code);
  assert.equal(code, "interrupted");
  assert.ok(phone.said.some((line) => /panicked/.test(line)), `it was a panic: ${phone.said}`);
  await stands(phone.page, "station");
  await call(phone.page, "signInAs", "Nadia");
  await start(phone.page, "toner");
  assert.deepEqual(await labels(phone.page), ["gloss", "toner"]);
});

test("a second page is told, and the station is handed over when it asks", async () => {
  const { relay, phone } = await founded();
  await start(phone.page, "gloss");
  const second = await phone.tab(relay.url);
  await stands(second, "elsewhere");
  await assert.rejects(call(second, "floor"), { code: "elsewhere" });
  await second.evaluate(() => client.takeOver());
  await stands(second, "station");
  await stands(phone.page, "elsewhere");
  assert.deepEqual(await labels(second), ["gloss"]);
  await call(second, "signInAs", "Nadia");
  await start(second, "toner");
  // And back, when the page that holds it goes.
  await second.close();
  await stands(phone.page, "station");
  assert.deepEqual(await labels(phone.page), ["gloss", "toner"]);
});

test("a relay that is killed in the middle of a visit and comes back gets everything, and nobody waits for it", async () => {
  const { relay, phone } = await founded();
  const other = await house.phone(relay.url);
  await join(other.page, await phone.page.evaluate(() => client.invite()), "basin phone");
  await relay.kill();
  await start(phone.page, "gloss");
  await start(other.page, "toner");
  await until("the status says so", async () => !(await call(phone.page, "status")).reachable);
  assert.ok((await call(phone.page, "status")).unsent >= 1);
  await relay.start();
  for (const { page } of [phone, other]) {
    await page.evaluate(() => client.tryAtOnce());
    await until("both are on both", async () => (await labels(page)).join() === "gloss,toner", 40_000);
  }
  await until("nothing is left to send", async () => (await call(phone.page, "status")).unsent === 0, 40_000);
});

test("where the browser gives no more room, what is refused is refused clearly and nothing else is lost", async () => {
  const { relay, phone } = await founded();
  await relay.kill();
  const visit = await openVisit(phone.page);
  await start(phone.page, "gloss");
  const cdp = await phone.context.newCDPSession(phone.page);
  const origin = new URL(relay.url).origin;
  const { usage } = await cdp.send("Storage.getUsageAndQuota", { origin });
  await cdp.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: usage + 4_000_000 });
  const kept = [];
  let refused;
  for (let n = 0; n < 20 && !refused; n++) {
    await keepPhoto(phone.page, visit, 900_000).then((id) => kept.push(id), (error) => { refused = error; });
  }
  assert.equal(refused?.code, "disk-full", String(refused));
  assert.ok(kept.length > 0);
  await cdp.send("Storage.overrideQuotaForOrigin", { origin });
  await start(phone.page, "after");
  // Leave, and come back to a station opened from storage. (A page that fails to load is one more navigation, begun late.)
  await phone.page.goto("about:blank");
  await relay.start();
  await phone.page.goto(relay.url);
  await stands(phone.page, "station");
  assert.deepEqual(await labels(phone.page), ["after", "gloss"]);
  const there = (await call(phone.page, "visit", visit)).photos.map((photo) => photo.id);
  assert.deepEqual(there.sort(), kept.sort(), "what was kept is there, and nothing of what was refused");
});

test("a photograph waits for the network, goes to the relay locked, and is seen at the others and the terminal", async () => {
  const { relay, phone } = await founded();
  const other = await house.phone(relay.url);
  await join(other.page, await phone.page.evaluate(() => client.invite()), "basin phone");
  const terminal = await house.terminal();
  await terminal("join", await phone.page.evaluate(() => client.invite()), "--station", "desk", "--as", "Nadia");
  const visit = await openVisit(phone.page);
  await relay.kill();
  const id = await keepPhoto(phone.page, visit, 200_000);
  assert.equal((await call(phone.page, "status")).photos_unsent, 1);
  await relay.start();
  await phone.page.evaluate(() => client.tryAtOnce());
  await until("it was sent", async () => (await call(phone.page, "status")).photos_unsent === 0, 60_000);
  await other.page.evaluate(() => client.tryAtOnce());
  await until("the other knows of it", async () => (await call(other.page, "visit", visit)).photos.length === 1, 60_000);
  const seen = await other.page.evaluate(async ([visit, id]) => [...(await client.photo(visit, id))], [visit, id]);
  assert.deepEqual(Buffer.from(seen), Buffer.from(jpeg(200_000)));

  await terminal("sync");
  const photo = (await call(phone.page, "visit", visit)).photos[0].said.versions[0].value;
  assert.equal(photo.kept.kind, "image/jpeg");
  const file = path(await house.folder(), "seen.jpg");
  await terminal("visit", "picture", visit, photo.sha256.slice(0, 12), "--to", file);
  assert.deepEqual(await readFile(file), Buffer.from(jpeg(200_000)));

  // And from the terminal to a phone.
  const own = path(await house.folder(), "own.jpg");
  await writeFile(own, Buffer.from(jpeg(50_000)));
  await terminal("visit", "photo", visit, own, "--of", "before");
  await until("the phone knows of it", async () => (await call(phone.page, "visit", visit)).photos.length === 2, 40_000);
  const [theirs] = (await call(phone.page, "visit", visit)).photos.filter((photo) => photo.id !== id);
  const bytes = await phone.page.evaluate(async ([visit, id]) => (await client.photo(visit, id)).length, [visit, theirs.id]);
  assert.equal(bytes, 50_000);
});

test("neither the station's seed nor the salon's keys lie open in the files of the origin", async () => {
  const { phone } = await founded();
  await start(phone.page, "a label to be found");
  await phone.page.evaluate(() => client.pause());
  await phone.close();
  const files = (await everyFile(phone.profile)).filter(([name]) => name.includes("File System"));
  const all = Buffer.concat(files.map(([, bytes]) => bytes)).toString("latin1");
  assert.ok(all.includes("SQLite format 3") && all.includes("recovery box"), "the store was read");
  for (const secret of ["station seed", "keyring"]) {
    const names = [...all.matchAll(new RegExp(`(locked )?${secret}`, "g"))].map(([name]) => name);
    assert.ok(names.length > 0, secret);
    assert.deepEqual(names.filter((name) => !name.startsWith("locked ")), [], "every one lies locked");
  }
});

async function everyFile(folder, found = []) {
  for (const entry of await readdir(folder, { withFileTypes: true })) {
    const name = path(folder, entry.name);
    if (entry.isDirectory()) await everyFile(name, found);
    else if (entry.isFile() && (await stat(name)).size < 64e6) found.push([name, await readFile(name)]);
  }
  return found;
}
