// Devices, people, settings, the mixing calculator.
export const house = {} as const;
