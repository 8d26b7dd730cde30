// The work of a visit, as its screens show it.
import type { ComponentChildren } from "preact";
import type { VisitView } from "@tailcomb/web/types";
import { t } from "../words/index.ts";
import { Note } from "./frame.tsx";
import { Reading } from "./reading.ts";

export const isClosed = (view: VisitView) => view.state.state === "closed";

/** What can be done at a visit. One that is closed can only be read until it is opened again: the core would refuse the rest. */
export function Work({ view, children }: { view: VisitView; children: ComponentChildren }) {
  if (!isClosed(view)) return <>{children}</>;
  return (
    <Reading.Provider value={true}>
      <Note shape="lock"><span>{t("visit.closed.read")}</span></Note>
      {children}
    </Reading.Provider>
  );
}
