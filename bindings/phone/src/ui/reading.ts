// Whether what is around only reads. Buttons, rows that add, and fields ask it, so that a screen need not at each of them.
import { createContext } from "preact";
import { useContext } from "preact/hooks";

export const Reading = createContext(false);
export const useReading = () => useContext(Reading);
