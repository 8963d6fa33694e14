// Thousands of rooms: they scroll, take a block, and give it back. Times are printed, not judged.

import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, describe, test } from "node:test";
import { browser, open, project, serve, until } from "./support.mjs";

const TIMES = 24;

describe("large", { concurrency: 1 }, () => {
  let job, server, instance, at, count;
  const rooms = () => readFileSync(join(job.folder, "rooms.csv"), "utf8");
  before(async () => {
    job = project();
    // The rooms of the demo many times, each by itself.
    const lines = rooms().trimEnd().split("\n");
    const many = [lines[0]];
    for (let i = 0; i < TIMES; i += 1) {
      for (const line of lines.slice(1)) {
        const cells = line.split(",");
        cells[0] = `${i}-${cells[0]}`;
        if (cells[3]) cells[3] = `${i}-${cells[3]}`;
        if (cells[10]) cells[10] = `${i}-${cells[10]}`;
        many.push(cells.join(","));
      }
    }
    count = many.length - 1;
    writeFileSync(join(job.folder, "rooms.csv"), `${many.join("\n")}\n`);
    const surfaces = readFileSync(join(job.folder, "surfaces.csv"), "utf8").trimEnd().split("\n");
    const room = surfaces[0].split(",").indexOf("room");
    const more = [surfaces[0]];
    for (let i = 0; i < TIMES; i += 1) {
      for (const line of surfaces.slice(1)) {
        const cells = line.split(",");
        cells[room] = `${i}-${cells[room]}`;
        more.push(cells.join(","));
      }
    }
    writeFileSync(join(job.folder, "surfaces.csv"), `${more.join("\n")}\n`);
    server = await serve(job.folder);
    instance = await browser();
    at = await open(instance, server.address);
    await at.page.locator('.inputs [data-r="0"]').first().waitFor();
  });
  after(async () => {
    await instance?.close();
    server?.kill();
    job?.remove();
  });

  test("rooms scroll", async (t) => {
    await at.page.getByRole("tab", { name: new RegExp(`rooms.csv ${count}`) }).waitFor();
    const frames = await at.page.evaluate(async () => {
      const grid = document.querySelector(".inputs .grid");
      const list = [];
      let before = performance.now();
      for (let i = 0; i < 120; i += 1) {
        grid.scrollTop += 240;
        await new Promise((r) => requestAnimationFrame(r));
        const now = performance.now();
        list.push(now - before);
        before = now;
      }
      return list.sort((a, b) => a - b);
    });
    t.diagnostic(`${count} rooms: a frame takes ${frames[60].toFixed(1)} ms (median), ${frames[113].toFixed(1)} ms (95 %), ${frames[119].toFixed(1)} ms (longest)`);
    assert.ok((await at.page.locator(".inputs .grid-row").count()) < 80, "only visible rows are in the document");
    await at.page.getByRole("grid", { name: "rooms.csv" }).focus();
    await at.page.keyboard.press("Control+End");
    await at.page.locator(`.inputs [data-r="${count - 1}"][data-c="0"]`).waitFor();
    await at.page.keyboard.press("Control+Home");
    assert.deepEqual(at.troubles, []);
  });

  test("500 rows are pasted and taken back", async (t) => {
    const original = rooms();
    await at.page.locator('.inputs [data-r="10"][data-c="5"]').click();
    const block = Array.from({ length: 500 }, (_, i) => `${200 + i}\t9\t${i % 7}`).join("\n");
    await at.page.evaluate((text) => navigator.clipboard.writeText(text), block);
    const begun = Date.now();
    await at.page.keyboard.press("Control+V");
    await at.page.locator('.inputs [data-r="12"][data-c="5"]', { hasText: "202" }).waitFor();
    const shown = Date.now() - begun;
    await until(() => rooms() !== original, 20_000);
    t.diagnostic(`500 rows pasted: shown after ${shown} ms, on the disk after ${Date.now() - begun} ms`);
    assert.equal(rooms().split("\n").length, original.split("\n").length);
    assert.match(rooms().split("\n")[510], /,699,9,2,/);
    const back = Date.now();
    await at.page.keyboard.press("Control+z");
    await until(() => rooms() === original, 20_000);
    t.diagnostic(`taken back after ${Date.now() - back} ms`);
    await until(async () => !(await at.page.locator('.inputs [data-r="12"][data-c="5"]').innerText()).startsWith("202"), 20_000);
    assert.deepEqual(at.troubles, []);
  });
});
