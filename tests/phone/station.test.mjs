// The station in a browser, without an app: what every screen of the app stands on.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { found, join, standing, call } from "./bench.mjs";

const app = "target/phone/bench";
let house;
before(() => { house = new House(); });
after(() => house.end());

test("two phones and a terminal live in one salon: a timer started on one is on all", async () => {
  const relay = await house.relay({ app });
  const first = await house.phone(relay.url);
  const words = await found(first.page, relay.url);
  assert.equal(words.trim().split(/\s+/).length, 24, "recovery words are shown once");

  const second = await house.phone(relay.url);
  await join(second.page, await first.page.evaluate(() => client.invite()), "basin phone");
  const terminal = await house.terminal();
  await terminal("join", await first.page.evaluate(() => client.invite()), "--station", "desk");

  const timer = { kind: "plain", label: "gloss", length_ms: 600_000, check_every_ms: null, sections: [], bowl: null, from: null };
  await call(first.page, "startTimer", null, timer);
  await until("the timer is on the second phone", async () => (await call(second.page, "floor")).timers.some((t) => t.label.text === "gloss"));
  const board = await terminal("floor", "--once");
  assert.match(JSON.stringify(board), /gloss/);
  assert.deepEqual(first.said, []);
  assert.deepEqual(second.said, []);
});

test("the status is told after what writes, and not after what only reads", async () => {
  const relay = await house.relay({ app });
  const { page } = await house.phone(relay.url);
  await found(page, relay.url);
  await until("the relay has it all", async () => { const now = await call(page, "status"); return now.unsent === 0 && now.caught_up; });
  // So that no exchange tells of itself meanwhile.
  await page.evaluate(() => client.pause());
  await page.evaluate(() => {
    globalThis.told = 0;
    client.onHappened((all) => { told += all.filter((one) => one.what === "status").length; });
  });
  for (const [name, ...args] of [["floor"], ["salon"], ["status"], ["search", "ro", 5], ["timers"]]) await call(page, name, ...args);
  assert.equal(await page.evaluate(() => told), 0);
  await call(page, "startTimer", null, { kind: "plain", label: "gloss", length_ms: 600_000, check_every_ms: null, sections: [], bowl: null, from: null });
  await until("it is told", async () => (await page.evaluate(() => told)) === 1);
});

test("a client's file is taken in as its bytes, and a large one of any bytes is refused as a file", async () => {
  const relay = await house.relay({ app });
  const { page } = await house.phone(relay.url);
  await found(page, relay.url);
  const doc = await call(page, "newClient", "Noémie 山 Arrieta", []);
  const taken = await page.evaluate(async (doc) => {
    const file = new TextEncoder().encode(JSON.stringify(await client.station.exportClient(doc)));
    return client.station.importClient(file);
  }, doc);
  assert.equal(taken.name, "Noémie 山 Arrieta");
  const refused = await page.evaluate(() =>
    client.station.importClient(Uint8Array.from({ length: 8 << 20 }, (_, n) => n % 256)).catch((error) => error.code));
  assert.equal(refused, "refused");
});
