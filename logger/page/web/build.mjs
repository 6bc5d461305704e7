// Bundles the page into dist: index.html, and assets whose names change with
// what is in them, so that a browser may keep them for ever.
import { build } from "esbuild";
import { copyFile, readFile, readdir, rm, writeFile } from "node:fs/promises";
import { basename } from "node:path";

const out = "dist/assets";
await rm(out, { recursive: true, force: true });
const { metafile } = await build({
  entryPoints: ["src/main.ts", "src/style/page.css"],
  bundle: true,
  splitting: true,
  format: "esm",
  target: "es2022",
  minify: true,
  legalComments: "none",
  entryNames: "[name]-[hash]",
  chunkNames: "[name]-[hash]",
  outdir: out,
  metafile: true,
});

// The shell names what the two entry points became, and what main cannot begin
// without, so that it all comes at once.
let shell = await readFile("src/index.html", "utf8");
for (const [path, { entryPoint, imports }] of Object.entries(metafile.outputs)) {
  if (entryPoint !== "src/main.ts" && entryPoint !== "src/style/page.css") continue;
  shell = shell.replaceAll(basename(entryPoint), `assets/${basename(path)}`);
  const needed = imports.filter(({ kind }) => kind === "import-statement").map((i) => `<link rel="modulepreload" href="/assets/${basename(i.path)}">`);
  if (entryPoint === "src/main.ts") shell = shell.replace("<!-- what main needs -->", needed.join("\n"));
}
await copyFile("src/static/icon.svg", "dist/icon.svg");
await writeFile("dist/index.html", shell);
console.log(`page: ${(await readdir(out)).length} assets`);
