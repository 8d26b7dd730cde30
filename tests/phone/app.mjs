// The app as a person uses it: what tests of its screens share.
import assert from "node:assert/strict";
import { mkdir } from "node:fs/promises";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { AxeBuilder } from "@axe-core/playwright";
import { until } from "./harness.mjs";

export const app = "bindings/phone/dist";
/** Pictures of screens, kept as the tests' output. */
export const shots = resolve(dirname(fileURLToPath(import.meta.url)), "../../target/phone/shots");

export async function shot(page, name, fullPage = false) {
  await mkdir(shots, { recursive: true });
  await page.screenshot({ path: join(shots, `${name}.png`), fullPage });
}

/** Founds a salon on a fresh phone, the recovery words written down and proved; gives the words. */
export async function found(page, { salon = "Atelier Quill", person = "Ivo", station = "desk phone" } = {}) {
  await page.getByRole("link", { name: /Found a salon/ }).tap();
  await page.getByLabel("Name of the salon").fill(salon);
  await page.getByLabel("Your name").fill(person);
  await page.getByLabel("Name of this device").fill(station);
  await page.getByRole("button", { name: "Found it" }).tap();
  await page.locator(".recovery").waitFor();
  const words = await page.locator(".recovery strong").allTextContents();
  await page.getByRole("button", { name: "They are on paper" }).tap();
  const asked = Number((await page.locator(".field label").textContent()).match(/\d+/)[0]);
  await page.getByRole("textbox").fill(words[asked - 1]);
  await page.getByRole("button", { name: "Done" }).tap();
  await page.locator(".floor-head").waitFor();
  return words.join(" ");
}

/** Asks a phone for an invitation, by its screen. */
export async function invite(page) {
  await page.goto(`${new URL(page.url()).origin}/#/stations`);
  await page.getByRole("button", { name: "Invite a device" }).tap();
  const link = await page.locator("code.link").textContent();
  await page.getByRole("button", { name: "Close" }).tap();
  return link;
}

/** Joins by opening the link, as a camera does. */
export async function join_by(page, link, station, person = "Ivo") {
  await page.goto(link);
  await page.getByLabel("Name of this device").fill(station);
  await page.getByRole("button", { name: "Join" }).tap();
  await page.getByRole("button", { name: new RegExp(person) }).tap();
  await page.locator(".floor-head").waitFor();
}

export async function go(page, screen) {
  await page.goto(`${new URL(page.url()).origin}/#/${screen}`);
  await until(`${screen} is read`, async () => (await page.locator("main").count()) > 0 && (await page.locator(".waiting").count()) === 0);
}

/** Holds something down for `ms`, as a finger does. */
export async function hold(page, target, ms) {
  await target.scrollIntoViewIfNeeded();
  const { x, y, width, height } = await target.boundingBox();
  const client = await page.context().newCDPSession(page);
  const point = { x: x + width / 2, y: y + height / 2 };
  await client.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [point] });
  await page.waitForTimeout(ms);
  await client.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  await client.detach();
}

/** What can be pressed on the page, as boxes; those that something covers whole are left out. */
export const targets = (page) => page.evaluate(() => {
  const over = document.querySelector("dialog[open]") ?? document;
  const all = [...over.querySelectorAll("a[href], button, input, select, textarea, [role=button]")];
  return all.filter((one) => !one.closest(".skip") && one.checkVisibility()).map((one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    return { name: one.textContent.trim().slice(0, 40), x, y: y + (one.closest(".dock, .lock, dialog") ? 1e6 : scrollY), width, height };
  });
});

/** WCAG 2.2 AA by axe-core, with nothing found. */
export async function accessible(page, what) {
  const found = await new AxeBuilder({ page }).withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]).analyze();
  const said = found.violations.map((one) => `${one.id}: ${one.help}\n${one.nodes.slice(0, 3).map((node) => `    ${node.html.slice(0, 160)}\n    ${node.failureSummary}`).join("\n")}`);
  assert.deepEqual(said, [], what);
}

/** Nothing reaches beyond the sides. */
export async function no_sideways(page, what) {
  const wide = await page.evaluate(() => {
    const { scrollWidth, clientWidth } = document.documentElement;
    const over = [...document.querySelectorAll("body *")].filter((one) => one.getBoundingClientRect().right > clientWidth + 1 && one.checkVisibility() && !one.closest(".unseen, .skip, svg"));
    return { scrollWidth, clientWidth, over: over.slice(0, 3).map((one) => one.outerHTML.slice(0, 120)) };
  });
  assert.ok(wide.scrollWidth <= wide.clientWidth && wide.over.length === 0, `${what}: ${JSON.stringify(wide)}`);
}
