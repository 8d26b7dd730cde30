import { defineConfig } from "vite";

export default defineConfig({
  base: "/",
  build: { outDir: "../../../target/phone/bench", emptyOutDir: true, target: "es2022", assetsInlineLimit: 0 },
  worker: { format: "es" },
});
