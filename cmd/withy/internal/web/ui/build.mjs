// Bundles the page, and that of the shop, into ../dist: script and style with a hash in their names, and
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
  entryPoints: { page: "src/main.ts", shop: "src/shop.ts" },
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
const named = (start, end) => made.find((name) => name.startsWith(start) && name.endsWith(end));
const drawing = await readFile("src/icon.svg");
const icon = `icon-${createHash("sha256").update(drawing).digest("hex").slice(0, 8)}.svg`;
await writeFile(join(dist, icon), drawing);
const names = { icon, script: named("page-", ".js"), style: named("page-", ".css"), shopScript: named("shop-", ".js"), shopStyle: named("shop-", ".css") };
for (const page of ["index.html", "shop.html"]) {
  const html = (await readFile(join("src", page), "utf8")).replace(/\{\{(\w+)\}\}/g, (_, what) => names[what]);
  await writeFile(join(dist, page), html);
}

// What each of the two pages loads at first.
const loads = { page: { plain: 0, small: 0 }, shop: { plain: 0, small: 0 } };
for (const name of ["index.html", "shop.html", icon, ...made]) {
  const text = await readFile(join(dist, name));
  const gz = gzipSync(text, { level: constants.Z_BEST_COMPRESSION });
  await writeFile(join(dist, `${name}.gz`), gz);
  await rm(join(dist, name));
  for (const [page, load] of Object.entries(loads)) {
    if (name === icon || name.startsWith(page) || (page === "page" && name === "index.html")) {
      load.plain += text.length;
      load.small += gz.length;
    }
  }
}
for (const [page, { plain, small }] of Object.entries(loads)) console.log(`${page}: ${plain} bytes, ${small} compressed`);
