// The symbols of the app. Each state has a shape of its own, so that none depends on colour; see LOOK.md.
import type { JSX } from "preact";

const shapes = {
  /** Runs: the comb. */
  comb: <path d="M3 5h18v3H3zM3 9h2v10H3zM7 9h2v10H7zM11 9h2v10h-2zM15 9h2v6h-2zM19 9h2v4h-2z" />,
  /** Look at a strand: an eye in a diamond. */
  look: <path fill-rule="evenodd" d="M12 1 23 12 12 23 1 12zM12 8c-3 0-5 2.2-6 4 1 1.8 3 4 6 4s5-2.2 6-4c-1-1.8-3-4-6-4zm0 2a2 2 0 1 1 0 4 2 2 0 0 1 0-4z" />,
  /** Time is up: an octagon that is full. */
  off: <path fill-rule="evenodd" d="M7.4 1h9.2L23 7.4v9.2L16.6 23H7.4L1 16.600V7.4zM10.700 6v8h2.600V6zm0 10v2.600h2.600V16z" />,
  /** Time is up and somebody silenced it: the octagon as an outline. */
  late: <path fill-rule="evenodd" d="M7.4 1h9.2L23 7.4v9.2L16.600 23H7.400L1 16.600V7.400zM8.500 3.600 3.600 8.500v7l4.900 4.900h7l4.900-4.900v-7l-4.900-4.900zM10.700 6.500v7h2.600v-7zm0 8.500v2.600h2.600V15z" />,
  paused: <path d="M5 4h5v16H5zM14 4h5v16h-5z" />,
  asks: <path fill-rule="evenodd" d="M2 2h20v20H2zM12 6c-2.500 0-4 1.500-4 3.500h2.300c0-1 .700-1.500 1.700-1.500s1.700.600 1.700 1.500c0 1.500-2.800 1.800-2.800 4.500h2.300c0-1.900 2.800-2.200 2.800-4.700C16 7.300 14.300 6 12 6zm-1.200 9.500V18h2.400v-2.500z" />,
  warn: <path fill-rule="evenodd" d="M12 2 23 21H1zm-1.100 7v6h2.200V9zm0 7.300v2.200h2.200v-2.200z" />,
  unread: <path fill-rule="evenodd" d="M2 4h20v16H2zm3 3v10h14V7zm3 4h8v2H8z" />,
  back: <path d="M14.500 4 6.500 12l8 8 2-2-6-6 6-6z" />,
  next: <path d="m9.500 4 8 8-8 8-2-2 6-6-6-6z" />,
  down: <path d="m4 9.500 8 8 8-8-2-2-6 6-6-6z" />,
  up: <path d="m4 14.500 8-8 8 8-2 2-6-6-6 6z" />,
  close: <path d="m6 4 6 6 6-6 2 2-6 6 6 6-2 2-6-6-6 6-2-2 6-6-6-6z" />,
  plus: <path d="M10.500 4h3v6.500H20v3h-6.500V20h-3v-6.500H4v-3h6.500z" />,
  minus: <path d="M4 10.500h16v3H4z" />,
  lock: <path fill-rule="evenodd" d="M12 2a5 5 0 0 0-5 5v3H4v12h16V10h-3V7a5 5 0 0 0-5-5zm-2.500 8V7a2.500 2.500 0 0 1 5 0v3z" />,
  people: <path d="M9 4a4 4 0 1 1 0 8 4 4 0 0 1 0-8zM1 20c0-4 3-6.500 8-6.500S17 16 17 20zM16.500 5a3.500 3.500 0 0 1 0 7v-2.200a1.300 1.300 0 0 0 0-2.600zM18 13.700c3 .600 5 2.700 5 6.300h-3.500c0-2.500-.500-4.500-1.500-6.300z" />,
  bowl: <path d="M2 10h20c0 5-3 9-7 10.500V22H9v-1.500C5 19 2 15 2 10zM14 2l3 1-2 5h-3z" />,
  shelf: <path d="M3 2h2v18h14V2h2v20H3zM6.500 4H10v6H6.500zM12 6h5v4h-5zM6.500 14H12v4H6.500zM14 12h3v6h-3zM5 10.500h14V12H5z" />,
  device: <path fill-rule="evenodd" d="M6 1h12v22H6zm2 3v14h8V4zm3 15.500V21h2v-1.500z" />,
  day: <path fill-rule="evenodd" d="M2 4h4V2h3v2h6V2h3v2h4v18H2zm3 6v9h14v-9zm2.500 2.500h4v4h-4z" />,
  settings: <path d="M3 5h9V3h3v2h6v3h-6v2h-3V8H3zm0 11h3v-2h3v2h12v3H9v2H6v-2H3z" />,
  undo: <path d="M9 4v4h5a6 6 0 0 1 0 12H7v-3h7a3 3 0 0 0 0-6H9v4L2 9.500z" />,
  sound: <path d="M2 9h4l6-5v16l-6-5H2zM15 8l2-1.500a7 7 0 0 1 0 11L15 16a5 5 0 0 0 0-8z" />,
} satisfies Record<string, JSX.Element>;
export type ShapeName = keyof typeof shapes;

/** Says nothing to a screen reader: the words beside it do. */
export const Shape = ({ of, size = 24 }: { of: ShapeName; size?: number }) => (
  <svg viewBox="0 0 24 24" width={size} height={size} fill="currentColor" aria-hidden="true" focusable="false">{shapes[of]}</svg>
);
