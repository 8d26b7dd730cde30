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
  await until("the timer is on the second phone", async () => (await call(second.page, "floor")).timers.some((t) => t.label === "gloss"));
  const board = await terminal("floor", "--once");
  assert.match(JSON.stringify(board), /gloss/);
  assert.deepEqual(first.said, []);
  assert.deepEqual(second.said, []);
});
