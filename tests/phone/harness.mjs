// What browser tests stand on: a relay process, browsers that are phones, and terminal stations.
import { spawn } from "node:child_process";
import { existsSync } from "node:fs";
import { mkdtemp, readdir, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const root = resolve(dirname(fileURLToPath(import.meta.url)), "../..");
const browser = process.env.TAILCOMB_CHROMIUM ?? "/usr/bin/chromium";
const flags = [
  "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync",
];

/** The program under test: TAILCOMB_BIN, or the build that is optimised, or the other. */
export function program() {
  const found = [process.env.TAILCOMB_BIN, "target/release/tailcomb", "target/debug/tailcomb"]
    .filter(Boolean).map((path) => resolve(root, path)).find(existsSync);
  if (!found) throw new Error("build the program first: cargo build --release -p tailcomb-server");
  return found;
}

/** Everything that one test starts and makes; `end()` takes all of it away. */
export class House {
  #ends = [];

  /** A folder that goes away at the end. */
  async folder() {
    const folder = await mkdtemp(join(tmpdir(), "tailcomb-"));
    this.#ends.push(() => rm(folder, { recursive: true, force: true, maxRetries: 5 }));
    return folder;
  }

  /** A relay that hands out the app in `app` (a folder under the project's), or the one built in. */
  async relay({ app, flags = [] } = {}) {
    const relay = new Relay(join(await this.folder(), "relay.db"), app, flags);
    this.#ends.push(() => relay.kill());
    await relay.start();
    return relay;
  }

  /** A phone: a browser of its own, upright and with a touch screen, at `url`. */
  async phone(url, options = {}) {
    const phone = new Phone(await this.folder(), options);
    this.#ends.push(() => phone.close());
    await phone.start(url);
    return phone;
  }

  /** A terminal station; the first argument of what it returns is the command, as words or a list. */
  async terminal() {
    const home = await this.folder();
    return (...words) => tailcomb(["--home", home, "--json", ...words.flat()]);
  }

  async end() {
    for (const end of this.#ends.reverse()) await end();
  }
}

/** Runs `tailcomb` to its end and gives its JSON. */
export function tailcomb(words, { input } = {}) {
  return new Promise((done, failed) => {
    const child = spawn(program(), words, { stdio: ["pipe", "pipe", "pipe"] });
    let out = "", said = "";
    child.stdout.on("data", (data) => { out += data; });
    child.stderr.on("data", (data) => { said += data; });
    child.on("error", failed);
    child.on("close", (code) => {
      if (code !== 0) failed(new Error(`tailcomb ${words.join(" ")}: ${code}\n${out}${said}`));
      else done(out.trim() ? JSON.parse(out) : undefined);
    });
    // One that refuses its words ends before it reads; what it says of that is heard.
    child.stdin.on("error", () => {});
    child.stdin.end(input ?? "");
  });
}

class Relay {
  #child;
  #listen = "127.0.0.1:0";
  constructor(database, app, flags) { Object.assign(this, { database, app, flags }); }

  /** Starts it; a second time at the same address. */
  async start() {
    const app = this.app ? ["--app", resolve(root, this.app)] : [];
    const child = spawn(program(), [
      "--json", "relay", "--listen", this.#listen, "--database", this.database, "--until-input-ends", ...app, ...this.flags,
    ], { stdio: ["pipe", "pipe", "pipe"] });
    let said = "";
    child.stderr.on("data", (data) => { said += data; });
    const line = await new Promise((ready, failed) => {
      createInterface({ input: child.stdout }).once("line", ready);
      child.once("close", () => failed(new Error(`the relay ended: ${said}`)));
    });
    this.#child = child;
    this.ready = JSON.parse(line);
    this.url = this.ready.url;
    this.#listen = new URL(this.url).host;
  }

  /** As a cut of the power would: no goodbye. */
  async kill() {
    const child = this.#child;
    if (!child || child.exitCode !== null || child.signalCode !== null) return;
    const gone = new Promise((done) => child.once("close", done));
    child.kill("SIGKILL");
    await gone;
  }
}

class Phone {
  constructor(profile, options) { Object.assign(this, { profile, options, said: [] }); }

  /** Opens the browser; a second time with all that it had kept. */
  async start(url) {
    const { args = [], ...options } = this.options;
    this.context = await chromium.launchPersistentContext(this.profile, {
      executablePath: browser, args: [...flags, ...args], viewport: { width: 390, height: 844 }, deviceScaleFactor: 2,
      isMobile: true, hasTouch: true, locale: "en-GB", timezoneId: "Europe/Lisbon", ...options,
    });
    this.page = this.context.pages()[0] ?? await this.context.newPage();
    this.#listen(this.page);
    if (url) await this.page.goto(url);
  }

  /** Another page of the same browser. */
  async tab(url) {
    const page = await this.context.newPage();
    this.#listen(page);
    await page.goto(url);
    return page;
  }

  /** What pages complained of, for a test that wants to hear nothing. */
  #listen(page) {
    page.on("console", (message) => { if (message.type() === "error") this.said.push(message.text()); });
    page.on("pageerror", (error) => this.said.push(String(error)));
  }

  async close() { await this.context?.close(); }

  /** As a phone that is out of power: every process of this browser ends at once, and nothing is written any more. */
  async kill() {
    for (const pid of (await readdir("/proc")).filter((name) => /^\d+$/.test(name))) {
      const words = await readFile(`/proc/${pid}/cmdline`, "utf8").catch(() => "");
      if (words.includes(this.profile)) try { process.kill(Number(pid), "SIGKILL"); } catch { /* gone by itself */ }
    }
    await this.context.close().catch(() => {});
    // What says that the profile is in use by a browser that is no more.
    for (const lock of ["SingletonLock", "SingletonCookie", "SingletonSocket"]) await rm(join(this.profile, lock), { force: true });
  }

  /** The worker that holds the station of a page. */
  worker(page = this.page) {
    const worker = page.workers().at(-1);
    if (!worker) throw new Error("this page has no worker");
    return worker;
  }
}

/** Waits until `look` gives something true; the last thing it gave, or failed with, is in the complaint. */
export async function until(what, look, within_ms = 15_000) {
  const end = Date.now() + within_ms;
  let last;
  for (;;) {
    try {
      last = await look();
      if (last) return last;
    } catch (error) {
      last = error;
    }
    if (Date.now() > end) throw new Error(`waited in vain until ${what}; last: ${last instanceof Error ? last.stack : JSON.stringify(last)}`);
    await new Promise((done) => setTimeout(done, 50));
  }
}
