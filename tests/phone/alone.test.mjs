// A phone that stands alone: its pictures wait for the network, or its browser has lost the key to what it keeps.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { accessible, no_sideways, shot } from "./app.mjs";
import { hold, open, salon } from "./salon.mjs";

let house, desk, otto, relay, visit, client;
before(async () => {
  house = new House();
  const made = await salon(house);
  ({ desk, relay } = made);
  otto = await made.phone("Otto", "basin phone");
  ({ doc: client } = await desk("client", "new", "Runa Vesterholm"));
  await desk("client", "consent", "Runa", "photos", "yes");
  ({ doc: visit } = await desk("visit", "open", "Runa", "gloss"));
});
after(() => house.end());

const status = () => otto.page.locator(".status").textContent();

test("photographs that wait for the network are in the status, in words, until they are sent", async () => {
  const { page } = otto;
  await until("the visit has come", async () => { await open(page, "visit", visit, "photos"); return page.getByLabel("Take a photo").count(); });
  await otto.context.setOffline(true);
  const drawn = (n) => page.evaluate((n) => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 800, height: 600 });
    const context = canvas.getContext("2d");
    context.fillStyle = "white";
    context.fillRect(0, 0, 200 * n, 600);
    return canvas.toDataURL("image/jpeg").split(",")[1];
  }, n);
  for (const n of [1, 2]) {
    await page.getByLabel("Take a photo").setInputFiles({ name: `${n}.jpg`, mimeType: "image/jpeg", buffer: Buffer.from(await drawn(n), "base64") });
    await page.getByRole("button", { name: "Keep it" }).click();
    await until(`${n} waits`, async () => (await status()).includes(n === 1 ? "1 photograph not sent yet" : "2 photographs not sent yet"));
  }
  await page.reload();
  await page.locator("figure img.photo").first().waitFor();
  await until("the network is missed, and the pictures still wait", async () => /2 photographs not sent yet.*no network/.test(await status()));
  await shot(page, "photos-waiting", true);
  await otto.context.setOffline(false);
  await until("nothing of photographs is left to say", async () => /everything sent/.test(await status()) && !/photograph/.test(await status()), 60_000);
  await desk("sync");
  const [hash] = JSON.stringify(await desk("visit", "show", "Runa")).match(/(?<="sha256":")[0-9a-f]{12}/) ?? [];
  await desk("visit", "picture", "Runa", hash, "--to", `${await house.folder()}/seen.jpg`);
});

test("a browser that has lost the key says so, begins anew when it is held to it, and joins again", async () => {
  const { page } = otto;
  // As a browser does that is short of room: what it kept of keys is gone, the files are not.
  await page.goto("about:blank");
  const other = await otto.context.newPage();
  await other.goto(`${relay.url}/manifest.webmanifest`);
  await other.evaluate(() => new Promise((done, failed) => {
    const gone = indexedDB.deleteDatabase("tailcomb keys");
    // The page that was left may hold it for a moment yet; it goes when that is over.
    gone.onsuccess = () => done();
    gone.onerror = () => failed(gone.error);
  }));
  await other.close();
  await page.goto(relay.url);
  await page.getByRole("heading", { name: "This browser has lost the key" }).waitFor();
  assert.match(await page.locator("main").innerText(), /join the salon again by an invitation/);
  await accessible(page, "lost key");
  await no_sideways(page, "lost key");
  await shot(page, "stand-locked");
  await page.reload();
  await page.getByRole("heading", { name: "This browser has lost the key" }).waitFor();
  await hold(page, page.getByRole("button", { name: /Begin anew/ }));
  await page.getByRole("link", { name: /Join by a link/ }).waitFor();
  const { link } = await desk("invite");
  await page.goto("about:blank");
  await page.goto(link);
  await page.getByLabel("Name of this device").fill("basin phone, again");
  await page.getByRole("button", { name: "Join" }).tap();
  await page.locator(".floor-head").waitFor();
  await until("what was sent is here again", async () => { await open(page, "visit", visit, "photos"); return (await page.locator("figure img.photo").count()) === 2; }, 30_000);
});
