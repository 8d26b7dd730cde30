// Every screen that is this file's, in both themes, at 320 px and with 200 % text: nothing that axe-core finds, nothing that
// reaches beyond the sides, no target below 24 px (48 px where it is a control of ours), and a picture.
import assert from "node:assert/strict";
import { appendFile, cp } from "node:fs/promises";
import { resolve } from "node:path";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { accessible, app, found, go, invite, join_by, no_sideways, shot, targets } from "./app.mjs";

let house, relay, phone, page, words;
before(async () => {
  house = new House();
  relay = await house.relay({ app });
  phone = await house.phone(relay.url);
  page = phone.page;
});
after(() => house.end());

const LEAST = 48;
/** Looks at a screen from all sides. */
async function looked_at(name, enter = () => go(page, name)) {
  for (const theme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: theme });
    for (const [width, size] of [[390, 100], [320, 100], [320, 200]]) {
      await page.setViewportSize({ width, height: 844 });
      await page.evaluate((size) => { document.documentElement.style.fontSize = `${size}%`; }, size);
      await enter();
      await accessible(page, `${name} ${theme} ${width} ${size} %`);
      await no_sideways(page, `${name} ${width} ${size} %`);
      for (const one of await targets(page)) assert.ok(one.width >= LEAST && one.height >= LEAST, `${name} ${width}: ${JSON.stringify(one)}`);
      await shot(page, `${name || "floor"}-${theme}-${width}-${size}`, true);
    }
  }
  await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
  await page.setViewportSize({ width: 390, height: 844 });
}

test("the first run: begin, join, found, recover", async () => {
  await page.getByRole("heading", { name: "Begin" }).waitFor();
  for (const screen of ["", "join", "found", "recover"]) {
    await looked_at(screen || "begin", async () => { await page.goto(`${relay.url}/#/${screen}`); await page.locator("main").waitFor(); });
  }
  await page.goto(`${relay.url}/#/`);
  words = await found(page);
  assert.equal(words.split(" ").length, 24);
});

test("a wrong recovery link, a used one and wrong words are refused with a sentence", async () => {
  const other = await house.phone(`${relay.url}/#/recover`);
  await other.page.getByLabel("The words").fill("not twelve words at all");
  await other.page.getByLabel("Name of this device").fill("found again");
  await other.page.getByRole("button", { name: "Open the salon" }).tap();
  assert.match(await other.page.getByRole("alert").textContent(), /That did not work.+/s);
  await shot(other.page, "refused");
  await other.page.getByLabel("The words").fill(`  ${words.toUpperCase()}  `);
  await until("the words reached the relay", async () => {
    await other.page.getByRole("button", { name: "Open the salon" }).tap({ timeout: 500 }).catch(() => {});
    return other.page.getByRole("heading", { name: "Who is here?" }).isVisible();
  });
  await other.close();
});

test("stations, settings, mixing, signing in", async () => {
  for (const screen of ["stations", "settings", "mix", "sign-in"]) await looked_at(screen);
});

test("the floor in both themes, with large text too", async () => {
  await go(page, "");
  await page.getByRole("button", { name: /20.*Gloss/ }).tap();
  await page.locator(".tile.timer").waitFor();
  await looked_at("");
});

test("a station is shut out by holding, and is told so", async () => {
  const other = await house.phone(relay.url);
  await join_by(other.page, await invite(page), "lost phone");
  await go(page, "stations");
  await page.getByRole("button", { name: /lost phone/ }).tap();
  await page.getByLabel("Why").fill("lost on the train");
  await shot(page, "station");
  await accessible(page, "a device");
  const held = page.getByRole("button", { name: "Hold to shut it out" });
  await held.focus();
  await page.keyboard.down("Enter");
  await page.waitForTimeout(1_200);
  await page.keyboard.up("Enter");
  await page.getByText("shut out").first().waitFor();
  await until("the other is told", async () => /refuses/.test(await other.page.locator(".status").textContent()), 40_000);
  await other.close();
});

test("an invitation is shown as a picture and as a link", async () => {
  await go(page, "stations");
  await page.getByRole("button", { name: "Invite a device" }).tap();
  await page.locator("img.code").waitFor();
  assert.ok(await page.locator("img.code").evaluate((one) => one.complete && one.naturalWidth > 0));
  assert.match(await page.locator("code.link").textContent(), /\/join#/);
  await shot(page, "invite");
  await accessible(page, "invite");
  await page.getByRole("button", { name: "Close" }).tap();
});

test("the calculator works without a client: 90 g at 1:1.5 is 36 g and 54 g, 20 vol meets the hair at 3.6 %", async () => {
  // 6 % by the label (20 vol), 54 of 90 parts: 3.6 %.
  await go(page, "mix");
  await until("it is worked out", async () => /36\.0 g[\s\S]*54\.0 g[\s\S]*90\.0 g[\s\S]*3\.6 %/.test(await page.locator("main").innerText()));
});

test("every word changes with the language, dates and numbers too", async () => {
  await go(page, "settings");
  await page.getByRole("radio", { name: "Español", exact: true }).tap();
  await page.getByRole("heading", { name: "Ajustes" }).waitFor();
  assert.equal(await page.evaluate(() => document.documentElement.lang), "es");
  await go(page, "mix");
  await until("the comma is there", async () => /36,0 g/.test(await page.locator("main").innerText()));
  await go(page, "");
  await shot(page, "floor-es");
  await go(page, "settings");
  await page.getByRole("radio", { name: "English", exact: true }).tap();
});

test("text size and theme are kept over a reload", async () => {
  await go(page, "settings");
  await page.getByRole("radio", { name: "200 %", exact: true }).tap();
  await page.getByRole("radio", { name: "Dark", exact: true }).tap();
  await page.reload();
  await page.locator("main").waitFor();
  assert.deepEqual(await page.evaluate(() => [document.documentElement.style.fontSize, document.documentElement.dataset.theme]), ["200%", "dark"]);
});

test("a newer version waits while a timer runs, and starts when it is asked to", async () => {
  const folder = await house.folder();
  await cp(resolve("../../", app), folder, { recursive: true });
  const served = await house.relay({ app: folder });
  const other = (await house.phone(served.url)).page;
  await found(other);
  await other.evaluate(() => navigator.serviceWorker.ready);
  await other.getByRole("button", { name: /10.*Treatment/ }).tap();
  await other.locator(".tile.timer").waitFor();
  await appendFile(`${folder}/sw.js`, "\n// newer\n");
  await served.kill();
  await served.start();
  await other.evaluate(() => navigator.serviceWorker.getRegistration().then((one) => one.update()));
  await other.getByText("waits until no timer runs").waitFor();
  assert.equal(await other.getByRole("button", { name: "Start it now" }).count(), 0);
  await go(other, "mix");
  await other.getByText("waits until no timer runs").waitFor();
  assert.equal(await other.getByRole("button", { name: "Start it now" }).count(), 0);
  await shot(other, "update");
  await accessible(other, "update");
  await go(other, "");
  const tile = other.locator(".tile.timer");
  await tile.focus();
  await other.keyboard.down(" ");
  await tile.waitFor({ state: "detached" });
  await other.keyboard.up(" ");
  const again = other.waitForEvent("load");
  await other.getByRole("button", { name: /Start it now/ }).tap();
  await again;
  await other.locator(".floor-head").waitFor();
  assert.equal(await other.getByText("A new version is here").count(), 0);
});

test("a second window is told, and can take over", async () => {
  const one = await house.phone(relay.url);
  await found(one.page);
  const second = await one.tab(relay.url);
  await second.getByRole("heading", { name: "Open in another window" }).waitFor();
  await shot(second, "elsewhere");
  await accessible(second, "elsewhere");
  await second.getByRole("button", { name: "Use it here" }).tap();
  await second.locator(".floor-head").waitFor();
  await one.page.getByRole("heading", { name: "Open in another window" }).waitFor();
  await one.close();
});

test("people are added, change their role, and leave", async () => {
  await go(page, "settings");
  await page.getByRole("button", { name: "Add somebody" }).tap();
  await page.getByLabel("Name").fill("Maren");
  await page.getByRole("radio", { name: "Trainer" }).tap();
  await page.getByRole("button", { name: "Add", exact: true }).tap();
  await page.getByRole("button", { name: /Maren.*Trainer/ }).tap();
  await page.getByRole("radio", { name: "Stylist" }).tap();
  await accessible(page, "somebody");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByRole("button", { name: /Maren.*Stylist/ }).tap();
  const leave = page.getByRole("button", { name: /no longer works here/ });
  await leave.focus();
  await page.keyboard.down("Enter");
  await page.getByRole("dialog").waitFor({ state: "detached" });
  await page.keyboard.up("Enter");
  await page.getByRole("button", { name: /Maren.*no longer here/ }).waitFor();
  await go(page, "sign-in");
  assert.equal(await page.getByRole("button", { name: /Maren/ }).count(), 0);
});

test("a screen that fails leaves the rest alive", async () => {
  await go(page, "");
  await page.evaluate(() => { window.matchMedia = () => { throw new Error("gone"); }; });
  await page.goto(`${relay.url}/#/settings`);
  await page.getByRole("heading", { name: "That did not work" }).waitFor();
  await accessible(page, "failed");
  await page.getByRole("link", { name: "Back" }).tap();
  await page.locator(".floor-head").waitFor();
});
