// A screen that fails takes nothing else with it: alarms, status and the way back go on.
import { Component, type ComponentChildren } from "preact";
import { t } from "../words/index.ts";
import { Note, Screen } from "./frame.tsx";
import { Button } from "./press.tsx";

export class Boundary extends Component<{ children: ComponentChildren }, { failed: string | undefined }> {
  override state = { failed: undefined };
  static override getDerivedStateFromError(error: unknown) {
    return { failed: error instanceof Error ? error.message : String(error) };
  }
  override componentDidCatch(error: unknown) { console.error(error); }
  override render() {
    if (this.state.failed === undefined) return this.props.children;
    return (
      <Screen title={t("trouble.title")}>
        <Note kind="off"><span>{t("trouble.nothing_lost")}</span><span class="small" lang="en">{this.state.failed}</span></Note>
        <Button wide onPress={() => this.setState({ failed: undefined })}>{t("do.again")}</Button>
      </Screen>
    );
  }
}
