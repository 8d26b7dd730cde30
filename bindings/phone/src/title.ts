import { signal } from "@preact/signals";

/** What the screen that is shown is called. `alarm/device.ts` writes it into the title, after the next due time. */
export const screenTitle = signal("Tailcomb");
