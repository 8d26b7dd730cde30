// Erasing a client at her wish, on a phone: gone here, on the other phone and at the desk, and what no erasing reaches is said.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { accessible, no_sideways, shot } from "./app.mjs";
import { hold, open, salon } from "./salon.mjs";

let house, desk, otto, mira, client, other;
before(async () => {
  house = new House();
  const made = await salon(house);
  ({ desk } = made);
  otto = await made.phone("Otto", "basin phone");
  mira = await made.phone("Mira", "chair phone");
  const as = (...words) => desk(...words, "--as", "Otto");
  ({ doc: client } = await as("client", "new", "Tova Brandvik", "--phone", "+351 900 000 231"));
  ({ doc: other } = await as("client", "new", "Signe Aune"));
  await as("visit", "open", "Tova", "gloss");
  await as("visit", "close", "Tova");
  await as("client", "did", "Signe", "ends", "lightener", "--note", "the same day as Tova Brandvik");
});
after(() => house.end());

const button = (page, name) => page.getByRole("button", { name });
const found = async (page, name) => {
  await open(page, "clients");
  await page.getByLabel("Search").fill(name);
  await page.waitForTimeout(400);
  return page.locator("main").getByText("Tova Brandvik").count();
};
async function wishes({ page }, why) {
  await open(page, "client", client, "contact");
  await page.locator("main").getByRole("button", { name: "Erase this client" }).click();
  await page.getByText(/every visit of Tova Brandvik go/).waitFor();
  await page.getByRole("radio", { name: why }).click();
  await hold(page, page.locator("dialog .hold"));
}

test("what is handed out of a client as data is taken in at another salon, card and visits, and says where it came from", async () => {
  await until("the card has come", async () => (await found(otto.page, "Tova")) > 0);
  await open(otto.page, "client", client, "contact");
  const [handed] = await Promise.all([otto.page.waitForEvent("download"), button(otto.page, "As data").click()]);
  const data = await handed.path();
  const elsewhere = await salon(house);
  const { page } = await elsewhere.phone("Otto", "another phone");
  await open(page, "clients");
  await button(page, "Take a client's file in").click();
  const take = (file) => page.getByLabel("Choose a file").setInputFiles(file);
  await take({ name: "broken.json", mimeType: "application/json", buffer: Buffer.from('{"format":') });
  await page.getByRole("dialog").getByRole("alert").waitFor();
  assert.equal(await page.getByText("Tova Brandvik is here").count(), 0);
  await take({ name: "tova.json", mimeType: "application/json", buffer: await readFile(data) });
  await page.getByText("Tova Brandvik is here, with 1 visit").waitFor();
  assert.equal(await page.getByRole("dialog").getByRole("alert").count(), 0, "what was wrong with the other file is said no more");
  await accessible(page, "a client's file taken in");
  await shot(page, "client-taken-in");
  await page.getByRole("link", { name: "To the card" }).click();
  await page.getByRole("heading", { name: "Tova Brandvik" }).waitFor();
  await open(page, "client", await page.evaluate(() => decodeURIComponent(location.hash.split("/")[2])), "contact");
  await page.getByText(/From a file of .*taken in by Otto Lindqvist/).waitFor();
});

test("an associate is refused, with who may, and the card stays", async () => {
  await until("the card has come", async () => (await found(mira.page, "Tova")) > 0);
  await wishes(mira, "the client asked for it");
  await mira.page.locator("dialog").getByText(/ask a stylist or a trainer/).waitFor();
  await button(mira.page, "Close").click();
  assert.ok(await found(mira.page, "Tova") > 0);
});

test("a client who was erased is gone here, on the other phone and at the desk, and where others still name her is listed", async () => {
  await until("the card has come", async () => (await found(otto.page, "Tova")) > 0);
  await until("the note that names her has come", async () => { await open(otto.page, "client", other, "history"); return otto.page.getByText("the same day as Tova").first().isVisible(); });
  await open(mira.page, "client", client);
  await mira.page.getByRole("heading", { name: "Tova Brandvik" }).waitFor();
  await wishes(otto, "the client asked for it");
  const { page } = otto;
  await page.getByText(/The card and 1 visit are gone from this device/).waitFor();
  const named = page.getByRole("list", { name: "Still named elsewhere" });
  assert.equal(await named.getByRole("listitem").count(), 1);
  assert.match(await named.innerText(), /Another client's card[\s\S]*Otto Lindqvist/);
  assert.match(await page.locator("main").innerText(), /still lies in the relay's log/, "what it does not reach is said");
  await accessible(page, "erased");
  await no_sideways(page, "erased");
  await shot(page, "erased", true);
  await named.getByRole("link").click();
  await until("the way leads to that card", async () => (await page.evaluate(() => decodeURIComponent(location.hash))).includes(other));
  await until("the card goes from a screen that shows it", async () => (await mira.page.getByText("Tova Brandvik").count()) === 0);
  await mira.page.getByText("it was erased, or it has not arrived yet").waitFor();
  await no_sideways(mira.page, "erased elsewhere");
  for (const phone of [otto, mira]) await until("no search finds her", async () => (await found(phone.page, "Tova")) === 0);
  await open(mira.page, "client", client);
  assert.equal(await mira.page.getByText("Tova Brandvik").count(), 0, "her address shows nothing of her");
  await desk("sync");
  await assert.rejects(desk("client", "show", "Tova"), /no client|nobody|not found|no such/i);
  assert.match(JSON.stringify(await desk("client", "erasures")), /Otto|asked for it/);
  assert.match(JSON.stringify(await desk("client", "show", "Signe")), /the same day as Tova Brandvik/, "another's record is hers");
  assert.deepEqual([otto.said, mira.said], [[], []], "no page complained");
});
