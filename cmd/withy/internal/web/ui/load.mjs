// Bundles one source of the page, so that a test can call it without a browser.
import { build } from "esbuild";

export async function load(path) {
  const made = await build({ entryPoints: [path], bundle: true, write: false, format: "esm" });
  return import(`data:text/javascript;base64,${Buffer.from(made.outputFiles[0].text).toString("base64")}`);
}
