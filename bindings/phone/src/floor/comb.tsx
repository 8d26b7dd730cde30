// Time that is left, as a comb: a tooth is a minute, five a group, thirty a row, two rows at most. See LOOK.md.
const ROW = 30;
const PITCH = 4;
const GROUP = 2;
const WIDTH = ROW * PITCH + (ROW / 5 - 1) * GROUP;

function teeth(count: number): string {
  let path = "";
  for (let i = 0; i < count; i += 1) path += `M${i * PITCH + Math.floor(i / 5) * GROUP} 2v9h2.6v-9z`;
  return path;
}
const rows = Array.from({ length: ROW + 1 }, (_, count) => teeth(count));

/** `minutes` that are left, begun ones counted. */
export function Comb({ minutes }: { minutes: number }) {
  const shown = Math.max(0, Math.min(2 * ROW, minutes));
  const second = Math.max(0, shown - ROW);
  return (
    <svg class="comb" viewBox={`0 0 ${WIDTH} ${second ? 25 : 11}`} aria-hidden="true" focusable="false">
      <path d={`M0 0h${WIDTH}v1.6H0z`} opacity="0.45" />
      <path d={rows[Math.min(ROW, shown)]} />
      {second > 0 && <g transform="translate(0 14)"><path d={`M0 0h${WIDTH}v1.6H0z`} opacity="0.45" /><path d={rows[second]} /></g>}
    </svg>
  );
}
