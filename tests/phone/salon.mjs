// A salon at work: a terminal at the desk, a shelf, and phones that joined by a link.
import { resolve } from "node:path";
import { app, hold as held, join_by } from "./app.mjs";

const sheet = resolve(import.meta.dirname, "../../server/src/demo/shelf.csv");

/** A salon with three people and a terminal at the desk; `phone` is one more device, with somebody signed in. */
export async function salon(house) {
  const relay = await house.relay({ app });
  const desk = await house.terminal();
  const words = resolve(await house.folder(), "words");
  await desk("salon", "found", "Alderlight", "--zone", "Europe/Lisbon", "--relay", relay.url, "--person", "Ines Carvalhal", "--role", "trainer", "--words-to", words);
  await desk("people", "add", "Otto Lindqvist", "--role", "stylist");
  await desk("people", "add", "Mira Sand", "--role", "associate");
  const phone = async (person, station, options) => {
    const { link } = await desk("invite");
    const phone = await house.phone(relay.url, options);
    phone.page.setDefaultTimeout(10_000);
    await phone.page.locator("main").waitFor();
    // A link that a camera opens is a new page of the browser.
    await phone.page.goto("about:blank");
    await join_by(phone.page, link, station, person);
    return phone;
  };
  return { relay, desk, phone };
}

export const stock = (desk) => desk("shelf", "import", sheet);

/** Opens a screen by its address and waits until what it asked for is there. */
export async function open(page, ...parts) {
  await page.evaluate((hash) => { location.hash = hash; }, `#/${parts.map(encodeURIComponent).join("/")}`);
  await ready(page);
}

/** Waits until nothing on the screen is being read or worked on. */
export const ready = (page) => page.waitForFunction(() => document.querySelector("main") && !document.querySelector(".waiting, [aria-busy=true]"));

/** Holds a button as a finger does, until it did its work. */
export const hold = (page, button) => held(page, button, 1_200);

/** Presses a button of a stepper so many times. */
export async function step(page, label, times) {
  const button = page.getByRole("button", { name: `${times < 0 ? "Less" : "More"}: ${label}`, exact: true });
  for (let i = 0; i < Math.abs(times); i++) await button.click();
}

/** Types a number on the pad. */
export async function pad(page, digits) {
  for (const digit of digits) await page.getByRole("button", { name: digit, exact: true }).click();
}

/** A client in the middle of a service, noted at the desk: painted sections, one of them over the label's time, a bowl in use. */
export async function service(desk) {
  const otto = (...words) => desk(...words, "--as", "Otto");
  const { doc: client } = await otto("client", "new", "Runa Vesterholm", "--phone", "+351 900 000 100", "--natural-level", "6", "--white", "15", "--texture", "coarse", "--density", "thick", "--porosity", "high", "--length", "38 cm", "--scalp", "sensitive");
  await otto("client", "sensitivity", "Runa", "fragrance", "--severity", "strong", "--reaction", "red behind the ears");
  await otto("client", "did", "Runa", "ends", "lightener", "--level", "9");
  const { doc: visit } = await otto("visit", "open", "Runa", "regrowth and lightening");
  await otto("visit", "goal", "Runa", "softer line, brighter ends");
  await otto("visit", "target", "Runa", "1", "--level", "7", "--tone", "beige");
  await otto("visit", "target", "Runa", "3", "--level", "9", "--tone", "pearl");
  for (const [name, ...more] of [["nape", "--foils", "6"], ["crown left", "--strokes", "8"], ["crown right", "--strokes", "8"], ["fringe"]]) await otto("section", "add", "Runa", name, "--area", name, ...more);
  await otto("formula", "note", "Runa", "lightener", "clay for painting=30g", "--ratio", "1:1.5", "--developer", "20vol", "--longest", "45m", "--life", "40m");
  await otto("override", "Runa", "--why", "the product does not touch the skin");
  await otto("bowl", "mix", "Runa");
  for (const [section, ago] of [["nape", "48 min ago"], ["crown left", "18 min ago"]]) await otto("paint", "Runa", section, "--bowl", "1", "--at", ago);
  await otto("check", "Runa", "nape", "--level", "8", "--warmth", "gold", "--feel", "stretchy");
  await otto("visit", "result", "Runa", "1", "--level", "7", "--tone", "beige");
  return { client, visit };
}
