// Where the page is: the part of the address after "#". A path is a screen's name and what it shows, e.g. `#/client/c-7f…`.
import { signal } from "@preact/signals";

const read = () => (location.hash.startsWith("#/") ? location.hash.slice(1) : "/").split("?")[0] ?? "/";

export const path = signal(read());
addEventListener("hashchange", () => {
  path.value = read();
  scrollTo(0, 0);
});

/** The address of a screen, for links. */
export const to = (...parts: string[]) => `#/${parts.map(encodeURIComponent).join("/")}`;
export const go = (...parts: string[]) => { location.hash = to(...parts); };
/** Goes to a screen without leaving a step to go back to. */
export const turn = (...parts: string[]) => location.replace(to(...parts));

/** The values that a pattern finds in a path: `client/:id` in `/client/7` gives `{ id: "7" }`; undefined: another screen. */
export function match(pattern: string, at: string): Record<string, string> | undefined {
  const wanted = pattern.split("/").filter(Boolean);
  const parts = at.split("/").filter(Boolean);
  if (wanted.length !== parts.length) return undefined;
  const found: Record<string, string> = {};
  for (const [i, part] of wanted.entries()) {
    const here = parts[i] ?? "";
    if (part.startsWith(":")) {
      try {
        found[part.slice(1)] = decodeURIComponent(here);
      } catch {
        return undefined;
      }
    } else if (part !== here) return undefined;
  }
  return found;
}

/** Whether a screen stands at an address; told by the table of screens, so that none that is missing is offered. */
let patterns: readonly string[] = [];
export const known = (all: readonly string[]) => { patterns = all; };
export const has = (...parts: string[]) => patterns.some((pattern) => match(pattern, to(...parts).slice(1)) !== undefined);
