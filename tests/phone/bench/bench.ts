// A page with nothing but a station, for tests that call it as an app would.
import { Client } from "../../../bindings/web/ts/client.ts";

Object.assign(window, { client: new Client() });
