// Taking product off: oldest first, section by section or all at once. Held, not tapped.
import { useAct, useLive } from "../live.ts";
import { to } from "../route.ts";
import { t } from "../words/index.ts";
import { ExposureChart } from "../ui/exposure.tsx";
import { Empty, Note, Screen, Show, Trouble } from "../ui/frame.tsx";
import { HoldButton } from "../ui/press.tsx";

export function RinseScreen({ id }: { id: string }) {
  const live = useLive(`rinse ${id}`, (station) => station.brief(id));
  const { error, run } = useAct();
  const rinse = (sections: string[] | null) => void run((station) => station.rinse(id, sections));
  return (
    <Screen title={t("rinse.title")} back={to("visit", id)}>
      <Trouble error={error} />
      <Show live={live}>
        {({ brief }) => {
          const order = [...brief.on_hair].sort((a, b) => a.since.ms - b.since.ms);
          if (order.length === 0) return <Empty shape="comb">{t("rinse.nothing")}{brief.rinsed.length > 0 && <p>{t("rinse.done", { sections: brief.rinsed.join(", ") })}</p>}</Empty>;
          return (
            <>
              <p class="quiet">{t("rinse.lead")}</p>
              <ol class="gloves one">
                {order.map((one, i) => (
                  <li key={one.section}>
                    <ExposureChart of={[one]} label={one.name} />
                    <HoldButton wide class="glove-high" look={one.longest_left_ms !== null && one.longest_left_ms <= 0 ? "grave" : "plain"} name={t("rinse.one", { section: one.name })} onHeld={() => rinse([one.section])}>
                      {i === 0 ? t("rinse.first", { section: one.name }) : t("rinse.nth", { n: i + 1, section: one.name })}
                    </HoldButton>
                  </li>
                ))}
              </ol>
              {order.length > 1 && <HoldButton wide class="glove-high" name={t("rinse.all")} onHeld={() => rinse(null)}>{t("hold.to", { what: t("rinse.all") })}</HoldButton>}
              <Note shape="warn">{t("rinse.watch")}</Note>
            </>
          );
        }}
      </Show>
    </Screen>
  );
}
