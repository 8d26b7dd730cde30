// The floor on a phone: gloves, alarms, wet screens, flight mode.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { House, until } from "./harness.mjs";
import { accessible, app, found, hold, invite, join_by, no_sideways, shot, targets } from "./app.mjs";

const GLOVE = 126, APART = 19;
let house, relay, first, second, terminal;

before(async () => {
  house = new House();
  relay = await house.relay({ app });
  first = await house.phone(relay.url);
  await found(first.page);
  second = await house.phone(relay.url);
  await join_by(second.page, await invite(first.page), "basin phone");
  terminal = await house.terminal();
  await terminal("join", await invite(first.page), "--station", "desk");
  await terminal("sign-in", "Ivo");
  await floor(first.page);
});
after(() => house.end());

const floor = (page) => page.goto(`${relay.url}/#/`).then(() => page.locator(".floor-head").waitFor());
const tile = (page, name) => page.locator(".tile.timer").filter({ hasText: name });
/** A timer that rings `seconds` from now: said at the terminal, to have started that much less than 10 minutes ago. */
const started = (label, length, ...more) => terminal("timer", "start", label, length, ...more);
const quiet = () => terminal("timer", "silence").catch(() => {});
async function swept() {
  for (const timer of (await terminal("floor", "--once")).timers ?? []) await terminal("timer", "stop", timer.label || timer.timer).catch(() => {});
}

test("an invitation link that was opened is out of the address bar before anything else", async () => {
  assert.ok(!second.page.url().includes("join#") && !second.page.url().includes("-"), second.page.url());
});

test("one tap starts a timer, the tile is on both phones, and for ten seconds one tap takes it back", async () => {
  await first.page.getByRole("button", { name: /35.*Colour/ }).tap();
  await tile(first.page, "Colour").waitFor();
  await tile(second.page, "Colour").waitFor();
  await first.page.getByRole("button", { name: /Undo/ }).tap();
  await tile(first.page, "Colour").waitFor({ state: "detached" });
  await tile(second.page, "Colour").waitFor({ state: "detached" });
});

test("a start that is tapped twice by a drop of water starts once", async () => {
  const start = first.page.getByRole("button", { name: /10.*Treatment/ });
  await start.scrollIntoViewIfNeeded();
  const { x, y, width, height } = await start.boundingBox();
  await first.page.touchscreen.tap(x + width / 2, y + height / 2);
  await first.page.touchscreen.tap(x + width / 2, y + height / 2);
  await tile(first.page, "Treatment").waitFor();
  await first.page.waitForTimeout(400);
  assert.equal(await tile(first.page, "Treatment").count(), 1);
});

test("a short press opens a timer, only a long one stops it, and that can be taken back", async () => {
  const one = tile(first.page, "Treatment");
  await one.tap();
  await first.page.getByRole("dialog").waitFor();
  await shot(first.page, "timer");
  await accessible(first.page, "timer");
  await first.page.getByRole("button", { name: "Close" }).tap();
  await hold(first.page, one, 300);
  assert.equal(await one.count(), 1);
  await first.page.getByRole("button", { name: "Close" }).tap();
  await hold(first.page, one, 1_200);
  await one.waitFor({ state: "detached" });
  await first.page.getByRole("button", { name: /Undo/ }).tap();
  await one.waitFor();
});

test("a key that is held stops too, and a short one opens", async () => {
  const one = tile(first.page, "Treatment");
  await one.focus();
  await first.page.keyboard.press("Enter");
  await first.page.getByRole("dialog").waitFor();
  await first.page.keyboard.press("Escape");
  await one.focus();
  await first.page.keyboard.down(" ");
  await first.page.waitForTimeout(1_200);
  await first.page.keyboard.up(" ");
  await one.waitFor({ state: "detached" });
});

test("a locked floor takes no tap, stays readable, and opens by holding", async () => {
  await started("towel", "12m");
  await tile(first.page, "towel").waitFor();
  await first.page.getByRole("button", { name: "Lock" }).tap().catch(() => {});
  await until("Undo has gone and the floor is locked", async () => {
    if (await first.page.locator(".lock").count()) return true;
    await first.page.getByRole("button", { name: "Lock" }).tap({ timeout: 1_000 }).catch(() => {});
    return false;
  });
  const { x, y, width, height } = await tile(first.page, "towel").boundingBox();
  await first.page.touchscreen.tap(x + width / 2, y + height / 2);
  assert.equal(await first.page.getByRole("dialog").count(), 0);
  assert.match(await tile(first.page, "towel").textContent(), /1[12]:\d\d/);
  await shot(first.page, "floor-locked");
  await accessible(first.page, "locked");
  await hold(first.page, first.page.locator(".lock button"), 1_200);
  await first.page.locator(".lock").waitFor({ state: "detached" });
  await tile(first.page, "towel").tap();
  await first.page.getByRole("dialog").waitFor();
  await first.page.getByRole("button", { name: "Close" }).tap();
});

test("an alarm comes up over every screen of both phones, and silence on one silences the other", async () => {
  await second.page.goto(`${relay.url}/#/settings`);
  await started("gloss on ends", "10m", "--kind", "gloss", "--since", "10 min ago");
  for (const page of [first.page, second.page]) {
    await page.getByRole("alertdialog").waitFor();
    assert.match(await page.getByRole("alertdialog").textContent(), /Time is up.*gloss on ends/is);
    await until("the title says it", async () => /Time is up/.test(await page.title()));
  }
  await shot(first.page, "alarm");
  await first.page.emulateMedia({ reducedMotion: "reduce" });
  await accessible(first.page, "alarm");
  await first.page.emulateMedia({ reducedMotion: "no-preference" });
  const { times, seconds } = await first.page.evaluate(() => {
    const frames = document.getAnimations().find((one) => one.animationName?.startsWith("alarm"));
    return { times: frames.effect.getKeyframes().length, seconds: frames.effect.getTiming().duration / 1000 };
  });
  assert.ok(times / seconds <= 3, `${times} changes in ${seconds} s`);
  await first.page.waitForTimeout(800);
  await first.page.getByRole("button", { name: "Silence", exact: true }).tap();
  for (const page of [first.page, second.page]) await page.getByRole("alertdialog").waitFor({ state: "detached" });
  await floor(second.page);
  assert.match(await tile(second.page, "gloss on ends").textContent(), /Silenced/i);
});

test("an alarm that comes up under a finger is not silenced by it", async () => {
  await started("foil", "10m", "--since", "10 min ago");
  await first.page.getByRole("alertdialog").waitFor();
  const settled = await first.page.evaluate(() => { document.querySelector("dialog.alarm .loud").click(); return document.querySelectorAll("dialog.alarm").length; });
  assert.equal(settled, 1);
  await first.page.waitForTimeout(1_000);
  assert.equal(await first.page.getByRole("alertdialog").count(), 1);
  await quiet();
  await first.page.getByRole("alertdialog").waitFor({ state: "detached" });
});

test("the title shows when the next one is due", async () => {
  await started("bleach wash", "25m");
  await until("the title shows a time", async () => /^\d\d:\d\d /.test(await first.page.title()));
});

test("every target of the floor is made for gloves, at every width, running, locked, ringing", async () => {
  await started("check me", "10m", "--kind", "processing", "--since", "10 min ago");
  await first.page.getByRole("alertdialog").waitFor();
  const states = {
    ringing: async () => {},
    running: async () => { await quiet(); await first.page.getByRole("alertdialog").waitFor({ state: "detached" }); },
    opened: async () => { await tile(first.page, "towel").tap(); await first.page.getByRole("dialog").waitFor(); },
  };
  for (const [name, enter] of Object.entries(states)) {
    await enter();
    for (const [width, height] of [[320, 640], [390, 844], [768, 1024], [844, 390]]) {
      await first.page.setViewportSize({ width, height });
      await first.page.waitForTimeout(150);
      const found = await targets(first.page);
      assert.ok(found.length > 0, name);
      for (const one of found) assert.ok(one.width >= GLOVE && one.height >= GLOVE, `${name} at ${width}: ${JSON.stringify(one)}`);
      for (const [i, a] of found.entries()) for (const b of found.slice(i + 1)) {
        const gap = Math.max(Math.max(a.x, b.x) - Math.min(a.x + a.width, b.x + b.width), Math.max(a.y, b.y) - Math.min(a.y + a.height, b.y + b.height));
        assert.ok(gap >= APART - 0.01, `${name} at ${width}: ${gap} px between ${a.name} and ${b.name}`);
      }
      await no_sideways(first.page, `${name} at ${width}`);
      await shot(first.page, `floor-${name}-${width}`);
    }
  }
  await first.page.getByRole("button", { name: "Close" }).tap();
  await first.page.setViewportSize({ width: 390, height: 844 });
});

test("a timer's sheet has every key in reach without scrolling, on a small phone and on its side", async () => {
  const { page } = first;
  await terminal("client", "new", "Signe Aune");
  await terminal("visit", "open", "Signe", "regrowth");
  await terminal("timer", "start", "crown left", "40m", "--visit", "Signe");
  await tile(page, "crown left").tap();
  await page.getByRole("dialog").waitFor();
  for (const [width, height] of [[320, 568], [568, 320], [667, 375], [375, 667], [390, 844]]) {
    const what = `at ${width} × ${height}`;
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(150);
    const seen = new Set();
    for (let turn = 0; turn < 5; turn++) {
      const { keys, over } = await page.evaluate(() => {
        const dialog = document.querySelector("dialog[open]");
        return {
          over: dialog.scrollHeight - dialog.clientHeight,
          keys: [...dialog.querySelectorAll(".keys > *")].map((one) => { const { x, y, right, bottom, width, height } = one.getBoundingClientRect(); return { name: one.textContent.trim(), x, y, right, bottom, width, height }; }),
        };
      });
      assert.ok(over <= 0, `${what}: nothing of the sheet is out of sight, ${over} px`);
      for (const [i, one] of keys.entries()) {
        assert.ok(one.x >= 0 && one.y >= 0 && one.right <= width && one.bottom <= height, `${what}: ${JSON.stringify(one)} is in sight`);
        assert.ok(one.width >= GLOVE && one.height >= GLOVE, `${what}: ${JSON.stringify(one)}`);
        for (const other of keys.slice(i + 1)) assert.ok(Math.max(other.x - one.right, other.y - one.bottom) >= APART - 0.01, `${what}: ${one.name}, ${other.name}`);
        seen.add(one.name);
      }
      assert.ok(keys.some((one) => one.name === "Close"), what);
      if (turn === 0) {
        assert.ok(["5 min", "Hold to stop"].every((name) => keys.some((one) => one.name === name)), `${what}: the urgent ones come first`);
        await shot(page, `timer-sheet-${width}`);
        await accessible(page, `the sheet ${what}`);
      }
      if (!seen.has("More keys")) break;
      await page.getByRole("button", { name: "More keys" }).tap();
    }
    for (const name of ["5 min", "Hold to stop", "Pause", "Take it", "Visit", "Say it"]) assert.ok(seen.has(name), `${what}: ${name} of ${[...seen]}`);
    await no_sideways(page, what);
  }
  await page.setViewportSize({ width: 320, height: 568 });
  await page.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
  await no_sideways(page, "at 200 %");
  await page.getByRole("button", { name: "Close" }).tap();
  await page.getByRole("dialog").waitFor({ state: "detached" });
  await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
  await page.setViewportSize({ width: 390, height: 844 });
  await terminal("timer", "stop", "crown left");
});

test("in flight mode everything goes on, a reload included, and is sent when the network is back", async () => {
  await until("the app lies on the phone", () => first.page.evaluate(() => navigator.serviceWorker.ready.then((one) => one.active?.state === "activated")));
  await first.page.reload();
  await first.page.locator(".floor-head").waitFor();
  await first.context.setOffline(true);
  await relay.kill();
  await first.page.reload();
  await first.page.locator(".floor-head").waitFor();
  await first.page.getByRole("button", { name: /20.*Gloss/ }).tap();
  await tile(first.page, /Gloss/).waitFor();
  await until("the status says what is not sent", async () => /1 not sent yet · .*no network/.test(await first.page.locator(".status").textContent()));
  await first.page.reload();
  await tile(first.page, /Gloss/).waitFor();
  await shot(first.page, "floor-flight");
  await relay.start();
  await first.context.setOffline(false);
  await until("it is sent", async () => /everything sent/.test(await first.page.locator(".status").textContent()), 40_000);
  await tile(second.page, /Gloss/).waitFor({ timeout: 40_000 });
});

test("an alarm sounds, shakes, keeps the screen on and shows on the badge, until it is silenced", async () => {
  const { page } = second;
  await page.addInitScript(() => {
    const heard = (window.heard = { tones: 0, shakes: 0, wakes: 0, badge: undefined, said: [] });
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...when) { heard.tones += 1; return start.apply(this, when); };
    Object.defineProperty(Navigator.prototype, "vibrate", { value: (pattern) => { if (pattern !== 0) heard.shakes += 1; return true; } });
    Object.defineProperty(navigator, "wakeLock", { value: { request: async () => { heard.wakes += 1; return Object.assign(new EventTarget(), { release: async () => {} }); } } });
    Object.defineProperty(Navigator.prototype, "setAppBadge", { value: async (n) => { heard.badge = n; } });
    speechSynthesis.speak = (words) => { heard.said.push(words.text); };
  });
  await page.goto("about:blank");
  await floor(page);
  await page.touchscreen.tap(5, 5);
  await started("toner", "10m", "--since", "10 min ago");
  await page.getByRole("alertdialog").waitFor();
  const heard = () => page.evaluate(() => window.heard);
  await until("it sounded and shook more than once", async () => (await heard()).tones > 6 && (await heard()).shakes > 1);
  assert.ok((await heard()).wakes > 0);
  await until("the badge shows that one rings", async () => (await heard()).badge === 1);
  await quiet();
  await page.getByRole("alertdialog").waitFor({ state: "detached" });
  const after = (await heard()).tones;
  await page.waitForTimeout(3_000);
  assert.equal((await heard()).tones, after, "silent");
  await until("the badge shows minutes again", async () => (await heard()).badge > 1);
  await tile(page, "bleach wash").tap();
  await page.getByRole("button", { name: "Say it" }).tap();
  await until("it is said", async () => (await heard()).said.some((one) => /bleach wash: \d+ minutes left/.test(one)));
  await page.getByRole("button", { name: "Close" }).tap();
});

test("a look at a strand rings as a look, with its own word, and the next look comes after it", async () => {
  await started("lightener crown", "30m", "--kind", "processing", "--check", "10m", "--since", "10 min ago");
  await first.page.getByRole("alertdialog").waitFor();
  assert.match(await first.page.getByRole("alertdialog").textContent(), /Look.*lightener crown/s);
  await shot(first.page, "alarm-look");
  await first.page.waitForTimeout(800);
  await first.page.getByRole("button", { name: "Silence", exact: true }).tap();
  await first.page.getByRole("alertdialog").waitFor({ state: "detached" });
  assert.match(await tile(first.page, "lightener crown").textContent(), /look \d\d:\d\d/);
});

// Time made to pass: the page and the core both ask the browser for it, so both are told another.
const passes = (page, ms) => Promise.all([page, ...page.workers()].map((where) => where.evaluate((ms) => {
  const real = Date.now;
  Date.now = () => real() + ms;
}, ms)));

test("a phone that slept past the end of a timer rings when it wakes, without a network", async () => {
  const alone = await house.phone(relay.url);
  const { page } = alone;
  await found(page, { salon: "Alone", station: "sleeper" });
  await alone.context.setOffline(true);
  await page.getByRole("button", { name: /35.*Colour/ }).tap();
  await tile(page, "Colour").waitFor();
  await passes(page, 34 * 60_000);
  await until("less than a minute is left", async () => /\b0:\d\d/.test(await tile(page, "Colour").locator(".figure-big").textContent()));
  assert.equal(await page.getByRole("alertdialog").count(), 0);
  await passes(page, 2 * 60_000);
  await page.getByRole("alertdialog").waitFor();
  assert.match(await page.getByRole("alertdialog").textContent(), /Time is up.*Colour/s);
  await alone.close();
});

test("of a very full floor only what is in sight counts, and what comes into sight is right at once", async () => {
  // As with a screen reader: only then does Chromium count as there what it does not draw.
  const { page } = await house.phone(relay.url, { args: ["--force-renderer-accessibility"] });
  await join_by(page, await invite(first.page), "reading phone");
  for (let n = 0; n < 60; n += 1) await started(`full ${n}`, `${40 + n}m`);
  await floor(page);
  const last = tile(page, /full 59$/);
  await last.waitFor({ state: "attached" });
  const figure = async () => {
    const [minutes, seconds] = (await last.locator(".figure-big").textContent()).split(":").map(Number);
    return minutes * 60 + seconds;
  };
  const { timers } = await terminal("floor", "--once");
  const due_ms = Math.max(...timers.map((one) => one.due_ms));
  // What a screen reader is given, out of sight too: it must not grow old there.
  const browser = await page.context().newCDPSession(page);
  const read_out = async () => (await browser.send("Accessibility.getFullAXTree")).nodes
    .filter((one) => one.role?.value === "button" && /full \d+$/.test(one.name?.value)).map((one) => one.name.value);
  const rings = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: "Europe/Lisbon" }).format(due_ms);
  await until("it is read out as when it rings", async () => (await read_out()).includes(`rings at ${rings} full 59`));
  await page.waitForTimeout(1_500);
  const changed = await page.evaluate(() => new Promise((done) => {
    const names = new Set();
    const watch = new MutationObserver((all) => {
      for (const one of all) names.add(one.target.parentElement?.closest(".tile.timer")?.querySelector(".name").textContent);
    });
    watch.observe(document.body, { subtree: true, characterData: true });
    setTimeout(() => done([...names]), 3_000);
  }));
  assert.ok(changed.includes("full 0") && !changed.includes("full 59"), changed.join());
  for (const name of await read_out()) {
    if (!changed.includes(name.match(/full \d+$/)[0])) assert.match(name, /^rings at \d\d:\d\d full/, "none that stands still is read out as what was left");
  }
  await last.scrollIntoViewIfNeeded();
  await until("it is right", async () => Math.abs((await figure()) - (due_ms - Date.now()) / 1_000) <= 2);
  await shot(page, "floor-many");
  await swept();
});

/** Every word of what these elements say, and on how many lines it stands. */
const lines = (page, selector) => page.evaluate((selector) => {
  const range = document.createRange();
  return [...document.querySelectorAll(selector)].flatMap(({ firstChild: text }) => [...text.data.matchAll(/\S+/g)].map((word) => {
    range.setStart(text, word.index);
    range.setEnd(text, word.index + word[0].length);
    return { said: word[0], lines: new Set([...range.getClientRects()].map((one) => Math.round(one.top))).size };
  }));
}, selector);

test("no figure is cut off and no key's word is broken, on a small phone with text twice as large, in Spanish", async () => {
  const { page } = second;
  await started("late", "10m", "--since", "25 min ago");
  await quiet();
  await page.evaluate(() => localStorage.setItem("language", "es"));
  await page.reload();
  await tile(page, "late").waitFor();
  await until("it is over by more than ten minutes", async () => /^\+1\d:\d\d$/.test(await tile(page, "late").locator(".figure-big").textContent()));
  for (const width of [320, 390]) for (const size of [100, 200]) {
    await page.setViewportSize({ width, height: 844 });
    await page.evaluate((size) => { document.documentElement.style.fontSize = `${size}%`; }, size);
    await page.waitForTimeout(150);
    const figures = await page.evaluate(() => [...document.querySelectorAll(".tile.timer")].map((one) => ({
      said: one.querySelector(".figure-big").textContent,
      room: one.getBoundingClientRect().right - one.querySelector(".figure-big > span").getBoundingClientRect().right,
    })));
    const words = await lines(page, ":is(.dock, .tile.start) .name");
    await tile(page, "late").tap();
    await page.getByRole("dialog").waitFor();
    words.push(...await lines(page, ".for-gloves .keys .name"));
    await page.getByRole("button", { name: "Cerrar" }).tap();
    await page.getByRole("dialog").waitFor({ state: "detached" });
    assert.ok(figures.length > 0 && ["Bloquear", "Temporizador", "Pausar"].every((said) => words.some((one) => one.said === said)), JSON.stringify(words));
    for (const one of figures) assert.ok(one.room > 4, `${width} px, ${size} %: ${JSON.stringify(one)}`);
    for (const one of words) assert.equal(one.lines, 1, `${width} px, ${size} %: ${one.said}`);
    await shot(page, `floor-spanish-${width}-${size}`);
  }
  await page.evaluate(() => { document.documentElement.style.fontSize = ""; localStorage.removeItem("language"); });
  await page.setViewportSize({ width: 390, height: 844 });
  await page.reload();
  await page.locator(".floor-head").waitFor();
  await swept();
});

test("an alarm is silenced without scrolling, whatever the phone and the size of text", async () => {
  const { page } = second;
  await started("toner on the ends", "10m", "--since", "10 min ago");
  const alarm = page.getByRole("alertdialog");
  await alarm.waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.className), "tile loud", "a key's press silences it");
  for (const [width, height] of [[320, 568], [568, 320], [390, 844]]) for (const size of [100, 200]) {
    const what = `${width} × ${height}, ${size} %`;
    await page.setViewportSize({ width, height });
    await page.evaluate((size) => { document.documentElement.style.fontSize = `${size}%`; }, size);
    await page.waitForTimeout(150);
    const { keys, word } = await page.evaluate(() => {
      const box = (one) => { const { x, y, right, bottom, width, height } = one.getBoundingClientRect(); return { said: one.textContent, x, y, right, bottom, width, height }; };
      return { keys: [...document.querySelectorAll("dialog.alarm button")].map(box), word: box(document.querySelector("#alarm-word")) };
    });
    assert.ok(keys.length >= 1 && keys[0].said === "Silence", what);
    for (const one of keys) {
      assert.ok(one.x >= 0 && one.y >= 0 && one.right <= width && one.bottom <= height, `${what}: ${JSON.stringify(one)} is in sight`);
      assert.ok(one.width >= GLOVE && one.height >= GLOVE, `${what}: ${JSON.stringify(one)}`);
    }
    assert.ok(word.y >= 0 && word.bottom <= height && word.right <= width, `${what}: ${JSON.stringify(word)} is in sight`);
    await no_sideways(page, what);
    await shot(page, `alarm-${width}-${size}`);
  }
  await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
  await page.setViewportSize({ width: 390, height: 844 });
  await page.emulateMedia({ reducedMotion: "reduce" });
  await accessible(page, "alarm");
  await page.emulateMedia({ reducedMotion: "no-preference" });
  await quiet();
  await alarm.waitFor({ state: "detached" });
  await swept();
});

test("the floor locks itself when nobody touches it, where that is wished", async () => {
  const { page } = first;
  await page.goto(`${relay.url}/#/settings`);
  await page.getByRole("group", { name: /Lock the floor/ }).getByRole("radio", { name: "On" }).tap();
  await page.clock.install();
  await floor(page);
  await page.clock.fastForward(29_000);
  assert.equal(await page.locator(".lock").count(), 0);
  await page.clock.fastForward(2_000);
  await page.locator(".lock").waitFor();
});

test("the maker's longest time rings to rinse, cannot be stopped away, and comes from what is on the hair", async () => {
  const { page } = second;
  await quiet();
  await terminal("client", "new", "Tova Lindqvist", "--born", "1980-05-05");
  await terminal("visit", "open", "Tova", "regrowth");
  await terminal("formula", "note", "Tova", "regrowth", "shade:copper 7=30g", "--ratio", "1:1.5", "--developer", "20vol", "--longest", "35m");
  await terminal("bowl", "mix", "Tova", "--label", "first");
  await terminal("section", "add", "Tova", "nape", "crown left");
  await terminal("paint", "Tova", "nape", "--bowl", "first", "--at", "37 min ago", "--no-timer", "--despite", "the test was read at another salon");
  await terminal("paint", "Tova", "crown left", "--bowl", "first", "--at", "10 min ago", "--no-timer", "--despite", "the test was read at another salon");
  await page.getByRole("alertdialog").waitFor();
  const said = await page.getByRole("alertdialog").textContent();
  assert.match(said, /Rinse now/i);
  assert.match(said, /Tova Lindqvist/);
  assert.match(said, /Take the product off now/);
  assert.equal(await page.getByRole("alertdialog").getByRole("button", { name: /stop/i }).count(), 0);
  // The alarm comes again every two minutes; how long the product is over its time goes on from the first.
  await until("it says how long it is over", async () => /^\+[2-9]:\d\d$/.test(await page.locator(".alarm .since").textContent()));
  await shot(page, "alarm-rinse");
  await page.waitForTimeout(800);
  await page.getByRole("alertdialog").getByRole("button", { name: /Silence/ }).tap();
  await page.getByRole("alertdialog").waitFor({ state: "detached" });
  await page.locator(".tile.late").filter({ hasText: /Rinse now.*nape/s }).waitFor();
  assert.match(await page.locator(".tile.late").filter({ hasText: /nape/ }).locator(".figure-big").textContent(), /^\+[2-9]:\d\d$/);
  await page.locator(".tile").filter({ hasText: /Tova Lindqvist.*On the head/s }).first().waitFor();
  await shot(page, "floor-clients", true);
  await accessible(page, "floor with clients");
  await terminal("rinse", "Tova");
  await until("nothing is on the head", async () => (await page.locator(".tile").filter({ hasText: /rinse nape/ }).count()) === 0);
});
