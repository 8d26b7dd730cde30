// One day in a salon whose stations are written in four languages: Kotlin, Python, a browser's and a terminal's. They meet
// over one relay, lose it, say different things, settle them, and end with the same record.
import assert from "node:assert/strict";
import { resolve } from "node:path";
import { after, before, test } from "node:test";
import { call, join } from "../phone/bench.mjs";
import { House, until } from "../phone/harness.mjs";
import { Refused, Station } from "./lines.mjs";

const root = resolve(import.meta.dirname, "../..");
const app = "target/phone/bench";
const programs = {
  Kotlin: ["bash", resolve(root, "bindings/kotlin/lines.sh")],
  Python: ["bash", resolve(root, "bindings/python/lines.sh")],
};

let house;
const stations = [];
before(() => { house = new House(); });
after(async () => {
  for (const station of stations) station.kill();
  await house.end();
});

async function join_in(language, link, name, person) {
  const station = new Station(language, programs[language], await house.folder());
  stations.push(station);
  await station.ask("open", { directory: station.directory, authority: null });
  await station.ask("join", { link, station: name });
  await until(`${language} knows ${person}`, async () => {
    await station.ask("exchange", { within_ms: 5_000 });
    await station.ask("signIn", { words: person });
    return true;
  });
  return station;
}

test("a day of stations in four languages ends with one record", { timeout: 180_000 }, async () => {
  const relay = await house.relay({ app });
  const desk = await house.terminal();
  await desk("salon", "found", "Alderlight", "--zone", "Europe/Lisbon", "--relay", relay.url, "--person", "Ines Carvalhal", "--role", "trainer", "--words-to", resolve(await house.folder(), "words"));
  await desk("people", "add", "Otto Lindqvist", "--role", "stylist");
  await desk("people", "add", "Mira Sand", "--role", "stylist");
  const invite = async () => (await desk("invite")).link;

  const kotlin = await join_in("Kotlin", await invite(), "colour bar", "Otto");
  const python = await join_in("Python", await invite(), "office", "Ines");
  const browser = await house.phone(relay.url);
  await join(browser.page, await invite(), "basin phone", "Mira");

  // Otto opens a visit on his phone and starts its timer; Mira takes the client over on hers.
  const client = await kotlin.ask("newClient", { name: "Runa Vesterholm ✂ ñ" });
  const visit = await kotlin.ask("openVisit", { client, service: "regrowth" });
  const timer = await kotlin.ask("startTimer", { visit, label: "nape", length_ms: 1_500_000 });
  const taken = await until("the browser has the visit", () => call(browser.page, "take", visit));
  assert.equal(taken.client_name, "Runa Vesterholm ✂ ñ");
  await until("Python sees the timer", async () => (await python.ask("floor")).timers.some((one) => one.timer === timer.timer));

  // The relay is gone: two people lengthen the same timer, neither knowing of the other.
  await relay.kill();
  await kotlin.ask("extendTimer", { doc: timer.doc, timer: timer.timer, by_ms: 300_000 });
  await python.ask("extendTimer", { doc: timer.doc, timer: timer.timer, by_ms: 300_000 });
  await python.ask("addNote", { visit, text: "asked for a lighter fringe" });
  await call(browser.page, "startTimer", null, { kind: "plain", label: "towels", length_ms: 900_000, check_every_ms: null, sections: [], bowl: null, from: null });
  const status = await kotlin.ask("exchange", { within_ms: 1_000 });
  assert.ok(status.unsent > 0, "Kotlin's word cannot have gone out");
  await relay.start();

  // Twice five minutes is a question and not ten; the terminal answers it.
  const asked = await until("the question stands everywhere", async () => {
    await desk("sync");
    const open = await desk("questions");
    const here = await call(browser.page, "questions");
    return here.length > 0 && JSON.stringify(open).includes(here[0].id) ? here : undefined;
  });
  assert.equal(asked.length, 1);
  await call(browser.page, "settle", asked[0].doc, asked[0].id, asked[0].choices[0].id);
  await until("it is settled at the desk", async () => { await desk("sync"); return !JSON.stringify(await desk("questions")).includes(asked[0].id); });

  // An app that was put to sleep comes back with what happened meanwhile.
  await kotlin.ask("pause");
  await assert.rejects(() => kotlin.ask("floor"), { code: "paused" });
  await python.ask("startTimer", { visit: null, label: "kettle", length_ms: 60_000 });
  await kotlin.ask("resume");
  await until("Kotlin has it", async () => (await kotlin.ask("floor")).timers.some((one) => one.label === "kettle"));
  await kotlin.ask("stopTimer", { doc: timer.doc, timer: timer.timer });

  const held = async () => {
    await desk("sync");
    const [digest] = await call(browser.page, "digest");
    const all = [(await kotlin.ask("digest")).digest, (await python.ask("digest")).digest, digest, (await desk("status")).digest];
    return new Set(all).size === 1 ? all : Promise.reject(new Error(all.join(" ")));
  };
  const all = await until("all four hold the same", held, 30_000);
  assert.match(all[0], /^[0-9a-f]{64}$/);
  for (const station of [kotlin, python]) {
    await station.ask("shut");
    await assert.rejects(() => station.ask("floor"), Refused);
  }
  assert.deepEqual(browser.said.filter((line) => !line.includes("ERR_CONNECTION")), []);
});
