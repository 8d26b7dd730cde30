import { useLive } from "../live.ts";
import { Screen, Show } from "../ui/frame.tsx";

export function Floor() {
  const live = useLive("floor", (station) => station.floor());
  return <Screen title="Floor" back={null}><Show live={live}>{(floor) => <p>{floor.salon}</p>}</Show></Screen>;
}
