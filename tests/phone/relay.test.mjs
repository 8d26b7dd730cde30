// What an invitation needs of the relay: that it has heard of the salon, and an address at which others find it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { app, invite } from "./app.mjs";
import { standing, stands } from "./bench.mjs";
import { salon } from "./salon.mjs";

let house;
before(() => { house = new House(); });
after(() => house.end());

test("an invitation asked for at once after founding waits for the relay to hear of the salon", async () => {
  const relay = await house.relay({ app: "target/phone/bench" });
  const { page } = await house.phone(relay.url);
  await stands(page, "empty");
  const link = await page.evaluate(async (relay_url) => {
    const made = { name: "Under the Stairs", zone: "Europe/Lisbon", relay_url, station: "front", person: "Nadia", role: "trainer" };
    const [, link] = await Promise.all([client.found(made), client.invite()]);
    return link;
  }, relay.url);
  const terminal = await house.terminal();
  await terminal("join", link, "--station", "desk");
  assert.equal(await standing(page), "station");
});

test("where the relay is not there, an invitation is refused with what to do about it", async () => {
  const relay = await house.relay({ app: "target/phone/bench" });
  const { page } = await house.phone(relay.url);
  await stands(page, "empty");
  await relay.kill();
  const said = await page.evaluate(async (relay_url) => {
    await client.found({ name: "Under the Stairs", zone: "Europe/Lisbon", relay_url, station: "front", person: "Nadia", role: "trainer" });
    return client.invite().then(() => "", (error) => error.message);
  }, relay.url);
  assert.match(said, /has not heard of this salon yet.*on its network/);
});

test("the devices' screen shows the relay's address, and makes invitations lead to where this page came from", async () => {
  const { desk, relay } = await salon(house);
  const here = relay.url.replace("127.0.0.1", "localhost");
  const { page } = await house.phone(here);
  await page.getByRole("link", { name: /Join by a link/ }).tap();
  await page.getByLabel("Invitation link").fill((await desk("invite")).link);
  await page.getByLabel("Name of this device").fill("window phone");
  await page.getByRole("button", { name: "Join" }).tap();
  await page.getByRole("button", { name: /Otto/ }).tap();
  await page.locator(".floor-head").waitFor();
  assert.ok((await invite(page)).startsWith(`${relay.url}/join#`));
  const card = page.getByRole("region", { name: "Relay" });
  assert.match(await card.innerText(), new RegExp(relay.url));
  await card.getByRole("button", { name: new RegExp(`Invite to ${here}`) }).tap();
  await until("it is kept", async () => (await card.getByRole("button").count()) === 0);
  const link = await invite(page);
  assert.ok(link.startsWith(`${here}/join#`), link);
  const other = await house.terminal();
  await other("join", link, "--station", "back room");
});
