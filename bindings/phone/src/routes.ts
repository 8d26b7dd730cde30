// Every screen and its address. A screen lives in a file of its own under `screens`; to add one, write the file and a line
// here (see README.md).
import type { ComponentType } from "preact";
import { known } from "./route.ts";
import { Floor } from "./screens/floor.tsx";
import { Mix } from "./screens/mix.tsx";
import { Settings } from "./screens/settings.tsx";
import { SignIn } from "./screens/sign-in.tsx";
import { Stations } from "./screens/stations.tsx";
import { work } from "./work/routes.ts";

/** What a screen is given: the values of its own pattern, by name. */
type Screen = ComponentType<any>;

export const routes: readonly [pattern: string, screen: Screen][] = [
  ["/", Floor],
  ["/sign-in", SignIn],
  ["/mix", Mix],
  ["/stations", Stations],
  ["/settings", Settings],
  ...work,
];
known(routes.map(([pattern]) => pattern));
