// Puts a built app where the relay's build takes it in: `node pack-app.mjs <dist> <server/app>`. Beside each file that
// shrinks lie its compressed forms. What is there already is left alone, so that nothing is built again for nothing.
import { mkdir, readdir, readFile, rm, writeFile } from "node:fs/promises";
import { dirname, join, relative } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

const [from, to] = process.argv.slice(2);
if (!from || !to) throw new Error("usage: pack-app.mjs <built app> <folder>");

const files = async (folder) => (await readdir(folder, { recursive: true, withFileTypes: true }))
  .filter((entry) => entry.isFile() && !entry.name.startsWith("."))
  .map((entry) => relative(folder, join(entry.parentPath ?? entry.path, entry.name)));

const known = async (path) => readFile(path).catch(() => undefined);
const kept = new Set();
let plainTotal = 0, sentTotal = 0;

for (const name of await files(from)) {
  const plain = await readFile(join(from, name));
  const path = join(to, name);
  kept.add(name).add(`${name}.br`).add(`${name}.gz`);
  const same = (await known(path))?.equals(plain) ?? false;
  let small = same ? await known(`${path}.br`) : undefined;
  if (!same) {
    await mkdir(dirname(path), { recursive: true });
    const brotli = brotliCompressSync(plain, { params: { [constants.BROTLI_PARAM_SIZE_HINT]: plain.length } });
    const worth = brotli.length < plain.length * 0.9;
    for (const [ending, bytes] of [[".br", brotli], [".gz", gzipSync(plain, { level: 9 })]]) {
      if (worth) await writeFile(path + ending, bytes);
      else await rm(path + ending, { force: true });
    }
    await writeFile(path, plain);
    small = worth ? brotli : undefined;
  }
  plainTotal += plain.length;
  sentTotal += (small ?? plain).length;
}
for (const name of await files(to)) if (!kept.has(name)) await rm(join(to, name));
const mb = (bytes) => (bytes / 1e6).toFixed(2);
console.log(`the app: ${mb(plainTotal)} MB, ${mb(sentTotal)} MB over the network`);
