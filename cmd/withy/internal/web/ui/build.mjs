// Bundles the page into ../dist: script and style with a hash in their names, and
// everything compressed.
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { readFile, readdir, rm, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { constants, gzipSync } from "node:zlib";

const dist = new URL("../dist/", import.meta.url).pathname;
const keep = "placeholder.html";

for (const name of await readdir(dist)) {
  if (name !== keep) await rm(join(dist, name), { recursive: true });
}

const result = await build({
  entryPoints: { page: "src/main.ts" },
  bundle: true,
  minify: true,
  format: "esm",
  target: ["es2022"],
  banner: { js: "/*! Withy: Apache-2.0, the Withy authors. Contains uPlot: MIT, (c) Leon Sorokin; d3-dsv: ISC, (c) Mike Bostock. */" },
  entryNames: "[name]-[hash]",
  outdir: dist,
  metafile: true,
});

const made = Object.keys(result.metafile.outputs).map((path) => path.slice(path.lastIndexOf("/") + 1));
const script = made.find((name) => name.endsWith(".js"));
const style = made.find((name) => name.endsWith(".css"));
const drawing = await readFile("src/icon.svg");
const icon = `icon-${createHash("sha256").update(drawing).digest("hex").slice(0, 8)}.svg`;
await writeFile(join(dist, icon), drawing);
const names = { script, style, icon };
const html = (await readFile("src/index.html", "utf8")).replace(/\{\{(\w+)\}\}/g, (_, what) => names[what]);
await writeFile(join(dist, "index.html"), html);

let plain = 0;
let small = 0;
for (const name of ["index.html", icon, ...made]) {
  const text = await readFile(join(dist, name));
  const gz = gzipSync(text, { level: constants.Z_BEST_COMPRESSION });
  await writeFile(join(dist, `${name}.gz`), gz);
  await rm(join(dist, name));
  plain += text.length;
  small += gz.length;
}
console.log(`page: ${plain} bytes, ${small} compressed`);
