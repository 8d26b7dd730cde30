import { floor } from "./floor.ts";
import { house } from "./house.ts";
import { shell } from "./shell.ts";
import { work } from "./work.ts";

/** English. Other languages have exactly these keys. */
export const en = { ...shell, ...floor, ...house, ...work } as const;
