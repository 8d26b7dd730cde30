// Builds the phone app. The relay serves `dist`; while developing, `npm run dev` passes requests on to a relay that runs
// beside it (TAILCOMB_RELAY, by default the relay's own default address).
import { fileURLToPath } from "node:url";
import { generateSW } from "workbox-build";
import { defineConfig, type Plugin } from "vite";

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
const relay = process.env["TAILCOMB_RELAY"] ?? "http://127.0.0.1:7420";
const proxy = { "/v1": { target: relay, changeOrigin: false } };

/** The service worker: keeps every file of the app, so that it starts in flight mode. It never takes over by itself. */
function serviceWorker(): Plugin {
  return {
    name: "service-worker",
    apply: "build",
    enforce: "post",
    async closeBundle() {
      await generateSW({
        globDirectory: here("dist"),
        globPatterns: ["**/*.{html,js,css,wasm,svg,png,webmanifest}"],
        swDest: here("dist/sw.js"),
        maximumFileSizeToCacheInBytes: 16 * 1024 * 1024,
        navigateFallback: "/index.html",
        navigateFallbackDenylist: [/^\/v1\//, /^\/trust/],
        dontCacheBustURLsMatching: /^assets\//,
        clientsClaim: true,
        skipWaiting: false,
        cleanupOutdatedCaches: true,
        inlineWorkboxRuntime: true,
        sourcemap: false,
        mode: "production",
      });
    },
  };
}

export default defineConfig({
  resolve: {
    alias: [
      { find: "@tailcomb/web/types", replacement: here("../web/ts/types.ts") },
      { find: "@tailcomb/web", replacement: here("../web/ts/client.ts") },
    ],
  },
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  server: { proxy, fs: { allow: [here("..")] } },
  preview: { proxy },
  worker: { format: "es" },
  build: { target: "es2022", assetsInlineLimit: 0, modulePreload: { polyfill: false } },
  plugins: [serviceWorker()],
});
