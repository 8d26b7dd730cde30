// Every working screen in both themes, at 320 px and with 200 % text: nothing that axe-core finds, nothing that reaches beyond
// the sides, no target below 48 px, and a picture of each.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { accessible, no_sideways, shot, targets } from "./app.mjs";
import { open, salon, service, stock } from "./salon.mjs";

let house, desk, page, client, visit, first, product;
before(async () => {
  house = new House();
  let phone;
  ({ desk, phone } = await salon(house));
  await stock(desk);
  ({ page } = await phone("Otto", "basin phone"));
  ({ client, visit } = await service(desk));
  await desk("client", "new", "Tove Aldana", "--as", "Otto");
  ({ doc: first } = await desk("visit", "open", "Tove", "gloss", "--as", "Otto"));
  product = (await desk("shelf", "list")).products[0].id;
  await desk("timer", "silence");
  await until("the visit has come", async () => { await open(page, "visit", visit); return page.getByText("softer line").first().isVisible(); });
});
after(() => house.end());

const LEAST = 48, GLOVE = 126, APART = 19;
const sized = (width, size) => page.setViewportSize({ width, height: 844 }).then(() => page.evaluate((size) => { document.documentElement.style.fontSize = `${size}%`; }, size));

/** Does something while no alarm stands over the screen; one that comes up meanwhile is silenced and it is done again. */
async function in_quiet(look) {
  const alarm = page.getByRole("alertdialog");
  do {
    if (await alarm.count()) {
      await desk("timer", "silence");
      await alarm.waitFor({ state: "detached" });
    }
    await look();
  } while (await alarm.count());
}

/** What is read beside something else, and how wide it is, in its own size of text. */
const columns = (page) => page.evaluate(() =>
  [...document.querySelectorAll(".row .words, .parts th, .timeline > li > ul > li")].filter((one) => one.checkVisibility())
    .map((one) => ({ said: one.textContent.slice(0, 40), ems: one.clientWidth / parseFloat(getComputedStyle(one).fontSize) })));

async function looked_at(name, ...parts) {
  await sized(390, 100);
  await open(page, ...parts);
  await page.waitForTimeout(100);
  for (const theme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: theme });
    await in_quiet(async () => {
      await accessible(page, `${name} ${theme}`);
      await shot(page, `${name}-${theme}`, true);
    });
  }
  await page.emulateMedia({ colorScheme: "light" });
  for (const [width, size] of [[390, 100], [320, 100], [390, 200], [320, 200]]) {
    await sized(width, size);
    await in_quiet(async () => {
      await no_sideways(page, `${name} ${width} ${size} %`);
      if (size === 200) for (const one of await columns(page)) assert.ok(one.ems >= 4.5, `${name} ${width}: there is room for words in ${JSON.stringify(one)}`);
      for (const one of await targets(page)) assert.ok(one.width >= LEAST - 0.5 && one.height >= LEAST - 0.5, `${name} ${width}: ${JSON.stringify(one)}`);
    });
  }
  await in_quiet(() => shot(page, `${name}-320-200`, true));
  await sized(390, 100);
}

test("clients and the card", async () => {
  await looked_at("clients", "clients");
  await looked_at("client-new", "clients", "new", "-");
  await looked_at("card", "client", client);
  for (const name of ["hair", "sensitivities", "tests", "questions", "history", "contact"]) await looked_at(`card-${name}`, "client", client, name);
});

test("the visit", async () => {
  await looked_at("visit", "visit", visit);
  for (const name of ["plan", "questions", "sections", "formulas", "formula", "gloss", "bowls", "mix", "small-bowls", "paint", "rinse", "check", "result", "after", "brief", "sign", "photos", "timeline"]) {
    await looked_at(`visit-${name}`, "visit", visit, name);
  }
  await looked_at("compare", "compare", first, visit);
});

test("settling, the close of the day, the shelf", async () => {
  for (const name of ["settle", "close", "shelf"]) await looked_at(name, name);
  await looked_at("product-new", "shelf", "new");
  await looked_at("product", "shelf", product);
});

test("what is tapped with gloves is at least 126 px square and 19 px from the next", async () => {
  for (const width of [320, 390]) {
    await sized(width, 100);
    for (const name of ["paint", "check"]) {
      await open(page, "visit", visit, name);
      const all = await page.locator("main .glove").evaluateAll((some) => some.map((one) => { const { left, top, right, bottom } = one.getBoundingClientRect(); return { left, top, right, bottom }; }));
      assert.ok(all.length >= 4, name);
      for (const [i, one] of all.entries()) {
        assert.ok(one.right - one.left >= GLOVE && one.bottom - one.top >= GLOVE, `${name} ${width}: ${JSON.stringify(one)}`);
        for (const other of all.slice(i + 1)) {
          const gap = Math.max(other.left - one.right, one.left - other.right, other.top - one.bottom, one.top - other.bottom);
          assert.ok(gap >= APART - 0.5, `${name} ${width}: ${gap} px apart`);
        }
      }
    }
  }
  await sized(390, 100);
});

test("the brief prints what matters and none of the buttons", async () => {
  await open(page, "visit", visit, "brief");
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.getByRole("button").count(), 0, "no button is printed");
  for (const words of ["fragrance: strong reaction", "RINSE", "Alderlight"]) assert.ok(await page.getByText(words).first().isVisible(), words);
  await shot(page, "brief-print", true);
  await page.emulateMedia({ media: "screen" });
});
