// Clients, visits, the day, the shelf.
export const work = {} as const;
