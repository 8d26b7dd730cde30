// Clients, visits, the day, the shelf.
import { card } from "./card.ts";
import { day } from "./day.ts";
import { visit } from "./visit.ts";

export const work = { ...card, ...visit, ...day } as const;
