// Keys for gloves on a sheet, without scrolling on any phone: as many as fit, the most urgent first, and one that turns to
// the rest. Closing is always among them.
import type { ComponentChild } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Shape } from "../ui/shape.tsx";
import { t } from "../words/index.ts";

/** The same measures as in the style sheets. */
const GLOVE = 126, APART = 19, EDGE = 16;
/** What is read needs so much above the keys, or beside them on a phone on its side. */
const READ_HIGH = 118, READ_WIDE = 190;
/** No sheet is wider. */
const WIDEST = 736;
/** Fewer places than these cannot turn. */
const FEWEST = 3;

export interface Room { columns: number; places: number; sideways: boolean }

/** How many keys there is room for. */
export function roomFor(wide: number, high: number): Room {
  const sideways = wide > high && high < 500;
  const across = sideways ? wide - READ_WIDE - APART : Math.min(wide, WIDEST);
  const down = sideways ? high : high - READ_HIGH;
  const fit = (length: number) => Math.max(1, Math.floor((length - 2 * EDGE + APART) / (GLOVE + APART)));
  const columns = fit(across);
  return { columns, places: columns * fit(down), sideways };
}

function useRoom(): Room {
  const [room, setRoom] = useState(() => roomFor(innerWidth, innerHeight));
  useEffect(() => {
    const look = () => setRoom(roomFor(innerWidth, innerHeight));
    addEventListener("resize", look);
    return () => removeEventListener("resize", look);
  }, []);
  return room;
}

export function Keys({ of, onClose }: { of: ComponentChild[]; onClose: () => void }) {
  const { columns, places } = useRoom();
  const [page, setPage] = useState(0);
  useEffect(() => setPage(0), [columns, places]);
  const all = of.filter(Boolean);
  const fit = all.length + 1 <= places || places < FEWEST;
  const each = fit ? all.length : places - 2, pages = Math.ceil(all.length / each), shown = page % pages;
  return (
    <div class="keys" style={{ gridTemplateColumns: `repeat(${columns}, minmax(var(--glove), 1fr))` }}>
      {all.slice(shown * each, (shown + 1) * each)}
      {!fit && <button type="button" class="tile" onClick={() => setPage(shown + 1)}><Shape of="next" size={36} /><span class="name">{t("timer.more")}</span></button>}
      <button type="button" class="tile" onClick={onClose}><Shape of="back" size={36} /><span class="name">{t("nav.close")}</span></button>
    </div>
  );
}
