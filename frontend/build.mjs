// Bundles the page into the Python package; byte for byte the same for the same sources, so that a check can compare.
import { build } from "esbuild";
import { copyFile, mkdir } from "node:fs/promises";

const out = process.argv[2] ?? "../src/halfsplit/bench/static";
await mkdir(out, { recursive: true });
await build({
  entryPoints: ["src/main.tsx", "src/style.css"],
  outdir: out,
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  jsx: "automatic",
  jsxImportSource: "preact",
  loader: { ".woff2": "file" },
  assetNames: "[name]",
  legalComments: "linked",
});
for (const file of ["index.html", "mark.svg", "font-licence.txt"]) await copyFile(`src/${file}`, `${out}/${file}`);
