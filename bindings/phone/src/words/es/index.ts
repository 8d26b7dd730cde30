import type { Catalogue } from "../index.ts";
import { floor } from "./floor.ts";
import { house } from "./house.ts";
import { shell } from "./shell.ts";
import { work } from "./work.ts";

/** Español. */
export const es: Catalogue = { ...shell, ...floor, ...house, ...work };
