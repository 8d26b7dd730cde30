// The floor and its alarms.
export const floor = {} as const;
