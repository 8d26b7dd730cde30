// Calls on the page without an app (`bench/`): a station and nothing else.
import { until } from "./harness.mjs";

export const standing = (page) => page.evaluate(() => globalThis.client?.standing);

/** Waits until the page stands so with its storage. */
export const stands = (page, wanted) => until(`the page stands at "${wanted}"`, async () => (await standing(page)) === wanted);

/** Calls one of the station's methods; what it refuses is an error whose message begins with the code. */
export async function call(page, name, ...args) {
  const answer = await page.evaluate(async ([name, args]) => {
    try {
      return { ok: await client.station[name](...args) };
    } catch (error) {
      return { code: error.code ?? "?", message: error.message };
    }
  }, [name, args]);
  if ("code" in answer) throw Object.assign(new Error(`${answer.code}: ${answer.message}`), { code: answer.code });
  return answer.ok;
}

/** Founds a salon at this phone; gives the recovery words. Whoever founds it is signed in. */
export async function found(page, relay_url, person = "Nadia Brandt") {
  await stands(page, "empty");
  const words = await page.evaluate((made) => client.found(made), {
    name: "Under the Stairs", zone: "Europe/Lisbon", relay_url, station: "front phone", person, role: "trainer",
  });
  await call(page, "signInAs", person.split(" ")[0]);
  return words;
}

/** Joins a salon by a link, and signs somebody in. */
export async function join(page, link, station, person = "Nadia") {
  await stands(page, "empty");
  await page.evaluate(([link, station]) => client.join(link, station), [link, station]);
  await until("somebody can sign in", () => call(page, "signInAs", person).then(() => true));
}
