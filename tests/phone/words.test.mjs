// The catalogues: what the compiler cannot see. That no key is missing, it does see.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import { runnerImport } from "vite";

const folder = new URL("../../bindings/phone/src/words/", import.meta.url);

/** Every sentence of a language, by key; one that changes with a number once for each of its forms. */
async function sentences(language) {
  const found = new Map();
  for (const file of await readdir(new URL(`${language}/`, folder))) {
    if (file === "index.ts" || !file.endsWith(".ts")) continue;
    const text = await readFile(new URL(`${language}/${file}`, folder), "utf8");
    for (const [, key, said] of text.matchAll(/^ {2}"([^"]+)": (.+),$/gm)) {
      assert.ok(!found.has(key), `${key} stands in two files of ${language}: one would silence the other`);
      found.set(key, [...said.matchAll(/"((?:[^"\\]|\\.)*)"/g)].map((one) => one[1]));
    }
  }
  return found;
}
const places = (text) => [...text.matchAll(/\{(\w+)\}/g)].map((one) => one[1]).sort().join();

for (const language of (await readdir(folder, { withFileTypes: true })).filter((one) => one.isDirectory()).map((one) => one.name)) {
  test(`${language} has a place for every value that English gives, and for no other`, async () => {
    const [english, other] = [await sentences("en"), await sentences(language)];
    assert.ok(english.size > 150, `${english.size} sentences were read`);
    assert.deepEqual([...other.keys()].sort(), [...english.keys()].sort());
    for (const [key, forms] of english) {
      assert.equal(other.get(key).length, forms.length, key);
      for (const [i, form] of forms.entries()) assert.equal(places(other.get(key)[i]), places(form), key);
    }
  });
  test(`${language} vouches for nothing`, async () => {
    // Of an address of the web it may be said: "stand.insecure".
    for (const [key, forms] of await sentences(language)) for (const form of key.startsWith("stand.insecure") ? [] : forms) assert.doesNotMatch(form, /\b(safe|segur[oa]s?)\b/i, key);
  });
}

/** What stands on several screens, and beside what the core says, is called by one word. */
const called = { es: [[/\btimers?\b/i, /temporizador/i], [/\bbowls?\b/i, /cuenco/i], [/\bdevelopers?\b/i, /revelador/i], [/\bto settle\b/i, /acordar/i], [/\blighten/i, /decolor/i],
  [/\bstrands?\b/i, /mech/i], [/\bsections?\b/i, /secci/i], [/\bcard\b/i, /ficha/i], [/\bshelf\b/i, /estante/i]] };
for (const [language, pairs] of Object.entries(called)) {
  test(`${language} calls a thing by one word on every screen`, async () => {
    const core = JSON.parse(await readFile(new URL(`${language}/core.json`, folder), "utf8"));
    const [english, other] = [await sentences("en"), await sentences(language)];
    const all = [...english].map(([key, forms]) => [forms.join(" "), other.get(key).join(" ")])
      .concat(Object.entries(core).map(([key, said]) => [key, typeof said === "string" ? said : Object.values(said).join(" ")]));
    for (const [word, its] of pairs) {
      // A list of words to be typed as they are is no sentence.
      const with_it = all.filter(([said]) => word.test(said.replace(/\{\w+\}/g, "")) && !said.startsWith("shade, gloss, developer"));
      assert.ok(with_it.length > 2, `${word}`);
      for (const [said, told] of with_it) assert.match(told, its, said);
    }
  });
}

test("a day with its year is the salon's day and the salon's year, wherever the phone is", async () => {
  // What a browser has and the words ask for as they are read.
  const has = { localStorage: { getItem: () => "en" }, navigator: { languages: ["en-GB"] } };
  for (const [name, value] of Object.entries(has)) Object.defineProperty(globalThis, name, { value, configurable: true });
  const { module: words } = await runnerImport(fileURLToPath(new URL("index.ts", folder)), { configFile: false, logLevel: "warn" });
  // New Year in Auckland while it is still the old year in Lisbon, and the other way round.
  const instant = Date.parse("2025-12-31T12:00:00Z");
  for (const phone of ["Pacific/Auckland", "Europe/Lisbon", "America/Los_Angeles"]) {
    process.env.TZ = phone;
    assert.match(words.dayAndYear(instant, "Pacific/Auckland"), /^Thu,? 1 Jan 2026$/, phone);
    assert.match(words.dayAndYear(instant, "Europe/Lisbon"), /^Wed,? 31 Dec 2025$/, phone);
  }
});
