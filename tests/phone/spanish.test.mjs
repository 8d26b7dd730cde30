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
  // Younger than the label's age: what stood against colour is written down with the override.
  await desk("client", "new", "Nilo Brandt", "--born", "2014-05-06", "--as", "Otto");
  await desk("visit", "open", "Nilo", "a streak", "--as", "Otto");
  await desk("override", "Nilo", "--why", "a parent is here", "--as", "Otto");
  await until("the visit has come", async () => { await open(page, "visit", visit); return page.getByText("softer line").first().isVisible(); });
  await page.evaluate(() => localStorage.setItem("language", "es"));
  await page.reload();
  await ready(page);
});
after(() => house.end());

function no_piece_in(text, where) {
  assert.ok(text.length > 100, `${where} says something`);
  assert.doesNotMatch(text, /\[object Object\]|\{\w+\}/, where);
  for (const piece of pieces) assert.ok(!text.includes(piece), `${where} says in English: ${piece}`);
}

async function nothing_english(where) {
  const shown = await page.evaluate(() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
    return [document.body.innerText, ...[...document.querySelectorAll("[aria-label], [title]")].map((one) => one.getAttribute("aria-label") ?? one.title)].join("\n");
  });
  no_piece_in(shown, where);
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

/** What a button hands out. */
async function handed_out(name) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name, exact: true }).click()]);
  return readFile(await download.path(), "utf8");
}
/** A page as it is read: its style's braces are no places of a sentence. */
const read = (html) => html.replace(/<style>.*?<\/style>/s, "");

test("the close is handed out in Spanish, to be printed and for a spreadsheet", async () => {
  await open(page, "close");
  const html = await handed_out("Como página");
  assert.match(html, /<html lang="es/);
  assert.match(html, /<title>Alderlight: cierre del \d/);
  for (const part of ["El día está abierto; queda algo por hacer.", "Visitas abiertas", "Runa Vesterholm", "menos de 16 años", "a parent is here"]) assert.ok(html.includes(part), `${part}: ${html}`);
  no_piece_in(read(html), "the printed close");
  const csv = await handed_out("Para hoja de cálculo");
  assert.match(csv, /^día,/);
  assert.match(csv, /\nVisitas abiertas,/);
  no_piece_in(csv, "the close as CSV");
});

test("a client is handed out in Spanish", async () => {
  await open(page, "client", client, "contact");
  const html = await handed_out("Para leer");
  for (const part of ["Todo lo que Alderlight guarda de este cliente", "Visita del", "fragrance"]) assert.ok(html.includes(part), `${part}: ${html}`);
  no_piece_in(read(html), "the client's page");
  assert.match(html, /cuenco 1/);
  assert.doesNotMatch(read(html), /\b(holder|visited|goal|target|on hair|bowl 1|foils)\b/);
  assert.match(html, new RegExp(`<td>\\d+ \\w+ ${new Date().getFullYear()} \\d\\d:\\d\\d</td>`), "an instant has its year");
});

test("why the next visit is proposed is told in Spanish, and kept so", async () => {
  await open(page, "visit", visit, "after");
  await page.getByRole("button", { name: "Proponer la próxima visita" }).click();
  const why = page.getByLabel("Por qué");
  await until("the reason is there", async () => /de raíz se ven a los \d+ días/.test(await why.inputValue()));
  await page.getByRole("button", { name: "Guardar" }).click();
  await page.getByText(/de raíz se ven a los \d+ días/).waitFor();
  await nothing_english("the next visit");
});

test("a ratio is typed and shown with the comma of a decimal, several at once", async () => {
  await open(page, "shelf", "new");
  // The alarm to rinse comes again.
  await desk("timer", "silence").catch(() => {});
  await page.getByRole("alertdialog").waitFor({ state: "detached" });
  await page.getByLabel("Línea").fill("Casa");
  await page.getByLabel("Nombre").fill("cobre 7");
  await page.getByLabel("Tono").fill("copper");
  await page.getByRole("group", { name: "Producto y revelador" }).getByRole("radio", { name: "Otro …" }).check();
  await page.getByLabel("Producto y revelador, con palabras").pressSequentially("1:1,5; 1:2, 2:3,5");
  await page.getByRole("button", { name: "Guardar" }).click();
  await page.getByRole("heading", { name: "Casa cobre 7" }).waitFor();
  await page.getByText("1:1,5 · 1:2 · 1:1,75").waitFor();
});

test("what one chooses between stands side by side, nothing over its neighbour", async () => {
  const fresh = await house.phone(new URL(page.url()).origin, { locale: "es-ES" });
  await fresh.page.getByRole("link", { name: /Fundar un salón/ }).tap();
  await fresh.page.getByRole("radio", { name: "Estilista" }).waitFor();
  for (const width of [320, 360, 390]) {
    await fresh.page.setViewportSize({ width, height: 844 });
    const boxes = await fresh.page.locator(".choice label > span").evaluateAll((all) => all.map((one) => { const { x, y, right, bottom } = one.getBoundingClientRect(); return { said: one.textContent, x, y, right, bottom }; }));
    assert.ok(boxes.length >= 3, JSON.stringify(boxes));
    for (const [i, a] of boxes.entries()) for (const b of boxes.slice(i + 1)) {
      assert.ok(Math.max(b.x - a.right, b.y - a.bottom) >= 4, `${width} px: ${a.said} and ${b.said}`);
    }
  }
  await fresh.close();
});

// The last one: the phone is no station any more.
test("what the relay says is told in Spanish", async () => {
  await desk("stations", "revoke", "basin phone", "--why", "lost");
  await open(page);
  await page.getByText("Este aparato fue retirado del salón").first().waitFor({ timeout: 30_000 });
  await nothing_english("the floor of a revoked station");
});
