// What the app promises in time and size, measured in a browser against a relay; one JSON line a figure. Prints, and asserts
// nothing: figures of a busy machine say nothing of the app.
import { House, until } from "./harness.mjs";
import { call, found, join } from "./bench.mjs";

const bench = process.env.TAILCOMB_BENCH ?? "target/phone/bench";
/** Served from a folder where given; otherwise what the relay carries, compressed. */
const app = process.env.TAILCOMB_APP;
const say = (what, figures) => console.log(JSON.stringify({ what, ...figures }));
const rank = (times, part) => [...times].sort((a, b) => a - b)[Math.min(times.length - 1, Math.floor(times.length * part))];
const spread = (times) => ({ n: times.length, p50_ms: round(rank(times, 0.5)), p95_ms: round(rank(times, 0.95)) });
const round = (n) => Math.round(n * 10) / 10;

/** Names that share beginnings, as a salon's do. */
const clients = (page, from, to) => page.evaluate(async ([from, to]) => {
  const first = ["Ada", "Bela", "Carmo", "Dina", "Edite", "Fausta", "Gil", "Hira"], last = ["Almada", "Brito", "Couto", "Dores", "Esteves"];
  for (let n = from; n < to; n += 1) {
    await client.station.newClient(`${first[n % 8]} ${last[n % 5]} ${n}`, [["phone", `+351 9${10_000_000 + n}`]]);
  }
}, [from, to]);

const timer = (label, minutes) => ({ kind: "plain", label, length_ms: minutes * 60_000, check_every_ms: null, sections: [], bowl: null, from: null });

/** What a fresh phone fetches to work in flight mode, as it comes over the network. */
async function first_load(house) {
  const relay = await house.relay({ app });
  const { page } = await house.phone(relay.url);
  await page.getByRole("link", { name: /Found a salon/ }).waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready);
  const paths = await page.evaluate(async () => {
    const fetched = performance.getEntriesByType("resource").map((one) => one.name);
    for (const name of await caches.keys()) {
      for (const request of await (await caches.open(name)).keys()) fetched.push(request.url);
    }
    return [...new Set(fetched.map((url) => new URL(url).pathname))];
  });
  let bytes = 0;
  for (const path of paths) {
    const answer = await fetch(relay.url + path, { headers: { "accept-encoding": "br, gzip" } });
    await answer.arrayBuffer();
    bytes += Number(answer.headers.get("content-length") ?? 0);
  }
  say("first load", { mb: Math.round(bytes / 1e4) / 100, files: paths.length });
  await house.end();
}

/** From the start of the navigation to the floor with its timers. */
async function floor_ready(page, url) {
  await page.goto(url);
  await page.waitForFunction(() => globalThis.readyAt !== undefined, undefined, { polling: 20 });
  return page.evaluate(() => globalThis.readyAt);
}

const watch_ready = (context) => context.addInitScript(() => {
  const look = () => {
    if (document.querySelector(".floor-head") && document.querySelector(".tile.timer")) globalThis.readyAt = performance.now();
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
});

async function calls_and_starts(house) {
  const relay = await house.relay({ app: bench });
  const [first, second] = [await house.phone(relay.url), await house.phone(relay.url)];
  await found(first.page, relay.url, "Ivo");
  await until("the relay has the salon", async () => (await call(first.page, "unsent")) === 0);
  await join(second.page, await first.page.evaluate(() => client.invite()), "basin phone", "Ivo");

  const kept = [];
  for (let n = 0; n < 200; n += 1) {
    kept.push(await first.page.evaluate(async (made) => {
      const began = performance.now();
      const { doc, timer } = await client.station.startTimer(null, made);
      const took = performance.now() - began;
      await client.station.stopTimer({ doc, timer });
      return took;
    }, timer(`start ${n}`, 30)));
  }
  say("timer durable", spread(kept));

  await second.page.evaluate(() => {
    globalThis.seen = {};
    client.onHappened(async (happenings) => {
      if (!happenings.some((one) => one.what === "changed")) return;
      for (const one of (await client.station.floor()).timers) seen[one.label.text] ??= performance.timeOrigin + performance.now();
    });
  });
  const across = [];
  for (let n = 0; n < 100; n += 1) {
    const label = `across ${n}`;
    const { began, at } = await first.page.evaluate(async (made) => {
      const began = performance.timeOrigin + performance.now();
      const { doc, timer } = await client.station.startTimer(null, made);
      return { began, at: { doc, timer } };
    }, timer(label, 30));
    across.push(await until(label, () => second.page.evaluate((label) => seen[label], label)) - began);
    await first.page.evaluate((at) => client.station.stopTimer(at), at);
  }
  say("timer on the other phone", spread(across));

  await clients(first.page, 0, 2_000);
  await first.page.evaluate((made) => client.station.startTimer(null, made), timer("towel", 55));
  await until("all is sent", async () => (await call(first.page, "unsent")) === 0, 60_000);
  await relay.kill();
  relay.app = app;
  await relay.start();

  for (const { page } of [first, second]) {
    await page.goto(`${relay.url}/?app#/`); // another page, not another place on the bench's
    await page.getByRole("button", { name: /Ivo/ }).tap({ timeout: 20_000 });
    await page.locator(".floor-head").waitFor();
  }
  await watch_ready(first.context);
  await first.page.evaluate(() => navigator.serviceWorker.ready);
  const warm = [], cold = [];
  for (let n = 0; n < 10; n += 1) warm.push(await floor_ready(first.page, `${relay.url}/?${n}#/`));
  say("floor, warm, 2,000 clients", spread(warm));
  for (let n = 0; n < 5; n += 1) {
    await first.close();
    await first.start();
    await watch_ready(first.context);
    cold.push(await floor_ready(first.page, `${relay.url}/#/`));
  }
  say("floor, cold, 2,000 clients", spread(cold));

  // A tap on the app's floor to the tile on the other phone's.
  const taps = [];
  for (let n = 0; n < 40; n += 1) {
    const count = await second.page.locator(".tile.timer").count();
    await second.page.evaluate((count) => {
      globalThis.tiled = new Promise((done) => {
        const look = () => (document.querySelectorAll(".tile.timer").length > count ? done(performance.timeOrigin + performance.now()) : requestAnimationFrame(look));
        look();
      });
    }, count);
    await first.page.evaluate(() => {
      globalThis.tapped = new Promise((done) => addEventListener("click", () => done(performance.timeOrigin + performance.now()), { once: true, capture: true }));
    });
    await first.page.getByRole("button", { name: /Treatment/ }).first().tap();
    const tapped = await first.page.evaluate(() => globalThis.tapped);
    taps.push(await second.page.evaluate(() => globalThis.tiled) - tapped);
    await first.page.getByRole("button", { name: /Undo/ }).tap();
    await until("it is taken back", async () => (await second.page.locator(".tile.timer").count()) === count);
  }
  say("tap to the tile on the other phone", spread(taps));
  await house.end();
}

async function many(house) {
  const relay = await house.relay({ app: bench });
  const phone = await house.phone(relay.url);
  await found(phone.page, relay.url, "Ivo");
  await phone.page.evaluate(async (made) => {
    for (let n = 0; n < 500; n += 1) await client.station.startTimer(null, { ...made, label: `t ${n}` });
  }, timer("", 90));
  await clients(phone.page, 0, 10_000);
  const keys = [];
  for (const words of ["ada alm", "gil brito 99", "carmo", "+351 91000"]) {
    for (let end = 1; end <= words.length; end += 1) {
      keys.push(await phone.page.evaluate(async (words) => {
        const began = performance.now();
        await client.station.search(words, 20);
        return performance.now() - began;
      }, words.slice(0, end)));
    }
  }
  say("search, 10,000 clients", spread(keys));
  await relay.kill();
  relay.app = app;
  await relay.start();
  await phone.page.goto(`${relay.url}/?app#/`);
  await phone.page.getByRole("button", { name: /Ivo/ }).tap({ timeout: 40_000 });
  await phone.page.locator(".tile.timer").nth(400).waitFor({ state: "attached", timeout: 60_000 });
  await phone.page.waitForTimeout(3_000);
  const long = await phone.page.evaluate(() => new Promise((done) => {
    const tasks = [];
    new PerformanceObserver((list) => tasks.push(...list.getEntries().map((one) => one.duration))).observe({ type: "longtask" });
    setTimeout(() => done(tasks), 20_000);
  }));
  say("500 timers tick for 20 s", { tasks_over_50_ms: long.length, longest_ms: Math.round(Math.max(0, ...long)) });
  await house.end();
}

const only = process.argv[2];
for (const measure of [first_load, calls_and_starts, many]) {
  if (!only || measure.name === only) await measure(new House());
}
