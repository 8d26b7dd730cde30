// The app in Spanish says nothing in English: not its own words, and not what the core says.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { shot } from "./app.mjs";
import { hold, open, ready, salon, service, stock } from "./salon.mjs";

const words = new URL("../../bindings/phone/src/words/", import.meta.url);
const [said, spanish] = await Promise.all(["core.json", "es/core.json"].map(async (file) => JSON.parse(await readFile(new URL(file, words), "utf8"))));
/** What stands between the places of English sentences, where it is long enough to be nothing else and Spanish has it otherwise. */
const pieces = [...new Set(said.filter((one) => spanish[one] !== one).flatMap((one) => one.split(/\{\w+\}/)))].map((one) => one.trim()).filter((one) => one.length > 14 && one.includes(" "));

let house, desk, page, client, visit;
before(async () => {
  house = new House();
  let phone;
  ({ desk, phone } = await salon(house));
  await stock(desk);
  ({ page } = await phone("Otto", "basin phone"));
  ({ client, visit } = await service(desk));
  await until("the visit has come", async () => { await open(page, "visit", visit); return page.getByText("softer line").first().isVisible(); });
  await page.evaluate(() => localStorage.setItem("language", "es"));
  await page.reload();
  await ready(page);
});
after(() => house.end());

async function nothing_english(where) {
  const shown = await page.evaluate(() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
    return [document.body.innerText, ...[...document.querySelectorAll("[aria-label], [title]")].map((one) => one.getAttribute("aria-label") ?? one.title)].join("\n");
  });
  assert.ok(shown.length > 100, `${where} shows something`);
  assert.doesNotMatch(shown, /\[object Object\]|\{\w+\}/, where);
  for (const piece of pieces) assert.ok(!shown.includes(piece), `${where} says in English: ${piece}`);
  // The name of a language is in that language.
  assert.deepEqual((await page.locator('main [lang="en"]').allTextContents()).filter((text) => text.trim() !== "English"), [], where);
}

test("an alarm to rinse is told in Spanish, on its tile and over everything", async () => {
  assert.ok(pieces.length > 300, `${pieces.length} pieces to look for`);
  await open(page);
  const alarm = page.getByRole("alertdialog");
  await alarm.waitFor();
  await page.getByText(/aclarar nape: se alcanzó el tiempo máximo del fabricante, 45 min/).first().waitFor();
  await nothing_english("the alarm");
  await shot(page, "spanish-alarm");
  await desk("timer", "silence");
  await alarm.waitFor({ state: "detached" });
  await page.locator(".tile", { hasText: "aclarar nape" }).first().waitFor();
  await nothing_english("the floor");
});

for (const parts of [["client"], ["client", "hair"], ["client", "sensitivities"], ["client", "tests"], ["client", "questions"], ["client", "history"],
  ["visit"], ["visit", "brief"], ["visit", "plan"], ["visit", "sections"], ["visit", "formulas"], ["visit", "formula"], ["visit", "gloss"], ["visit", "questions"], ["visit", "bowls"], ["visit", "paint"],
  ["visit", "rinse"], ["visit", "check"], ["visit", "result"], ["visit", "after"], ["visit", "timeline"], ["visit", "sign"], ["close"], ["shelf"], ["mix"], ["stations"], ["settings"], ["settle"]]) {
  test(`${parts.join(" ")} is in Spanish`, async () => {
    const [first, ...more] = parts;
    await open(page, first, ...(first === "client" ? [client] : first === "visit" ? [visit] : []), ...more);
    if (await page.getByRole("alertdialog").count()) await desk("timer", "silence");
    await page.waitForTimeout(150);
    await nothing_english(parts.join(" "));
    await shot(page, `spanish-${parts.join("-")}`, true);
  });
}

test("a refusal is told in Spanish", async () => {
  await open(page, "visit", visit);
  await hold(page, page.getByRole("button", { name: "Cerrar la visita" }));
  const alert = page.getByRole("alert").filter({ hasText: "No ha funcionado" });
  await alert.getByText(/la visita aún no se puede cerrar: .*está en uso: di qué fue de él/).waitFor();
  await nothing_english("a refusal");
  await shot(page, "spanish-refused");
});
