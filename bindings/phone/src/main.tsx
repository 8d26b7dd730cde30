import { render } from "preact";
import "./look/tokens.css";
import "./look/ui.css";
import "./look/work.css";
import "./settings.ts";
import { App } from "./app.tsx";
import { watchForUpdates } from "./update.ts";

const root = document.getElementById("app");
if (root) render(<App />, root);
watchForUpdates();
