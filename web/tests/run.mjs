// Runs every file of tests, one after the other: they share one browser program and the processor.

import { readdirSync } from "node:fs";
import { run } from "node:test";
import { spec } from "node:test/reporters";
import { fileURLToPath } from "node:url";
import { dirname, join } from "node:path";

const here = dirname(fileURLToPath(import.meta.url));
const files = readdirSync(here).filter((f) => f.endsWith(".test.mjs")).sort().map((f) => join(here, f));
let failed = files.length === 0;
run({ files, concurrency: 1, timeout: 1_800_000 })
  .on("test:fail", () => {
    failed = true;
  })
  .compose(new spec())
  .pipe(process.stdout);
process.on("exit", () => {
  if (failed) process.exitCode = 1;
});
