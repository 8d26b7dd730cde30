// Who works at this device. What is done here from then on is signed with that name.
import { useLive, useAct } from "../live.ts";
import { turn } from "../route.ts";
import { said } from "../time.ts";
import { Row, Rows, Screen, Show, Trouble } from "../ui/frame.tsx";
import { t } from "../words/index.ts";

export function SignIn() {
  const live = useLive("people", (station) => station.salon());
  const { error, run } = useAct();
  return (
    <Screen title={t("sign.title")} back={null}>
      <p class="quiet">{t("sign.lead")}</p>
      <Trouble error={error} />
      <Show live={live}>
        {(salon) => (
          <Rows>
            {salon.people.filter((one) => said(one.active) !== false).map((one) => (
              <Row key={one.id} shape="people" title={said(one.name) ?? "?"} detail={t(`role.${said(one.role) ?? "associate"}`)}
                onPress={() => void run((station) => station.signIn(one.id), () => turn(""))} />
            ))}
          </Rows>
        )}
      </Show>
    </Screen>
  );
}
