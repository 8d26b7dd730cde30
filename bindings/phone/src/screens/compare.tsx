// Two visits of a client side by side, line by line: what differs first of all.
import { useState } from "preact/hooks";
import { useLive } from "../live.ts";
import { to } from "../route.ts";
import { date, t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Empty, Screen, Show } from "../ui/frame.tsx";
import { Choice } from "../ui/form.tsx";

export function Compare({ first, second }: { first: string; second: string }) {
  const live = useLive(`compare ${first} ${second}`, (station) => station.compareVisits(first, second), [first, second]);
  const [show, setShow] = useState<"differs" | "all">("differs");
  return (
    <Screen title={t("compare.title")} back={to("visit", second)}>
      <Choice label={t("shelf.show")} value={show} onChange={setShow} options={[{ value: "differs", text: t("compare.differs") }, { value: "all", text: t("compare.all") }]} />
      <Show live={live}>
        {(both) => {
          const lines = both.lines.filter((one) => show === "all" || one.differs);
          if (lines.length === 0) return <Empty>{t("compare.same")}</Empty>;
          const named = (of: typeof both.first) => `${of.date ? date(of.date) : "?"} ${of.date.slice(0, 4)} · ${of.service}`;
          return (
            <table class="compare">
              <thead><tr><th scope="col">{named(both.first)}</th><th scope="col">{named(both.second)}</th></tr></thead>
              {lines.map((one, i) => (
                <tbody key={i} class={one.differs ? "differs" : ""}>
                  <tr><th scope="rowgroup" colSpan={2}>{[one.part, one.about].map(told).filter(Boolean).join(" · ")}</th></tr>
                  <tr><td>{one.first ? told(one.first) : "–"}</td><td>{one.second ? told(one.second) : "–"}</td></tr>
                </tbody>
              ))}
            </table>
          );
        }}
      </Show>
    </Screen>
  );
}
