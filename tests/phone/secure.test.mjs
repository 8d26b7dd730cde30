// The relay over TLS, with the authority that it makes for itself.
import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { mkdir, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { promisify } from "node:util";
import { call, found } from "./bench.mjs";
import { House } from "./harness.mjs";

const run = promisify(execFile);
const app = "target/phone/bench";
let house, relay;
before(async () => {
  house = new House();
  relay = await house.relay({ app, flags: ["--tls"] });
});
after(() => house.end());

test("a browser that was not told to trust the authority opens nothing, and the page that helps needs no trust", async () => {
  const phone = await house.phone();
  await phone.page.goto(relay.ready.trust);
  const shown = await phone.page.locator(".print span").allTextContents();
  assert.equal(shown.join(":"), relay.ready.fingerprint, "it shows what the relay shows");
  assert.equal(await phone.page.getByRole("link", { name: "Open Tailcomb" }).getAttribute("href"), `${relay.url}/`);
  const wide = await phone.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(wide <= 0, `${wide} px too wide`);
  await assert.rejects(phone.page.goto(relay.url), /ERR_CERT_AUTHORITY_INVALID/);
});

test("a browser that trusts it has a secure page, and founds a salon there", async () => {
  const HOME = await house.folder();
  const store = join(HOME, ".pki/nssdb");
  await mkdir(store, { recursive: true });
  const pem = await fetch(relay.ready.trust + "/authority.pem").then((answer) => answer.text());
  const file = join(HOME, "authority.pem");
  await writeFile(file, pem);
  await run("certutil", ["-d", `sql:${store}`, "-N", "--empty-password"]);
  await run("certutil", ["-d", `sql:${store}`, "-A", "-t", "C,,", "-n", "salon", "-i", file]);
  const phone = await house.phone(relay.url.replace("https", "http"), { env: { ...process.env, HOME } });
  assert.equal(phone.page.url(), `${relay.url}/`, "it was sent on to the secure side");
  assert.equal(await phone.page.evaluate(() => isSecureContext), true);
  await found(phone.page, relay.url);
  assert.equal((await call(phone.page, "salon")).name.versions[0].value, "Under the Stairs");
  assert.deepEqual(phone.said, []);
});
