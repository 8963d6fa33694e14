// How long it takes from the last key to the painted number. The times are printed and not judged, for they judge the machine
// as well; that new numbers come, and that none is of an earlier state, is.

import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, describe, test } from "node:test";
import { browser, open, serve, settled, timed as demo } from "./support.mjs";

const ROUNDS = Number(process.env.DRYCOIL_ROUNDS ?? 3);

describe("live", { concurrency: 1 }, () => {
  let job, server, instance, at;
  before(async () => {
    job = demo();
    // A profile of the project in place of a built-in one that rooms use.
    const hours = [0, 0, 0, 0, 0, 0, 0, 0.1, 0.6, 1, 1, 1, 0.6, 1, 1, 1, 1, 0.5, 0.1, 0, 0, 0, 0, 0];
    const titles = hours.map((_, h) => `h${String(h).padStart(2, "0")}`).join(",");
    const rows = ["people", "lighting", "plugs"].map((use) => `office,${use},all,${hours.join(",")}`);
    writeFileSync(join(job.folder, "profiles.csv"), `profile,use,day,${titles}\n${rows.join("\n")}\n`);
    server = await serve(job.folder);
    instance = await browser();
    at = await open(instance, server.address);
    await settled(at.page);
    await at.page.evaluate(() => {
      const times = { key: 0, design: 0, year: 0 };
      globalThis.times = times;
      addEventListener("keydown", (e) => {
        times.key = e.timeStamp;
      }, true);
      const strip = document.querySelector(".strip");
      const painted = (what) => requestAnimationFrame(() => setTimeout(() => {
        times[what] = performance.now();
      }, 0));
      new MutationObserver((list) => {
        for (const m of list) {
          if (m.attributeName === "data-design" && strip.dataset.design) painted("design");
          if (m.attributeName === "data-year" && strip.dataset.year) painted("year");
        }
      }).observe(strip, { attributes: true });
    });
  });
  after(async () => {
    await instance?.close();
    server?.kill();
    job?.remove();
  });

  /** Times of one edit: key to design, key to year, ms. */
  async function timed(make) {
    await settled(at.page);
    await at.page.evaluate(() => {
      globalThis.times.design = 0;
      globalThis.times.year = 0;
    });
    await make();
    await at.page.waitForFunction(() => globalThis.times.design > globalThis.times.key && globalThis.times.year > globalThis.times.key, null, { timeout: 120_000 });
    await settled(at.page);
    assert.equal(await at.page.locator(".figure.stale").count(), 0);
    const t = await at.page.evaluate(() => globalThis.times);
    return [t.design - t.key, t.year - t.key];
  }

  async function measured(t, what, make) {
    const all = [];
    for (let i = 0; i < ROUNDS; i += 1) all.push(await timed(() => make(i)));
    const least = (k) => Math.round(Math.min(...all.map((x) => x[k])));
    const middle = (k) => Math.round(all.map((x) => x[k]).sort((a, b) => a - b)[Math.floor(all.length / 2)]);
    t.diagnostic(`${what}: new sizing ${least(0)} / ${middle(0)} ms, new year ${least(1)} / ${middle(1)} ms after the last key (least / median of ${ROUNDS})`);
  }

  async function typeInto(row, column, text) {
    await at.page.locator(`.inputs [data-r="${row}"][data-c="${column}"]`).dblclick();
    await at.page.keyboard.press("Control+A");
    await at.page.keyboard.type(text);
    await at.page.keyboard.press("Enter");
  }

  test("a cell of the room list", async (t) => {
    await measured(t, "room cell", (i) => typeInto(2, 7, String(41 + i)));
    assert.deepEqual(at.troubles, []);
  });

  test("a set point of the whole building", async (t) => {
    await measured(t, "building-wide set point", async (i) => {
      const field = at.page.getByLabel("cooling set point", { exact: true });
      await field.fill(`${74 + 0.1 * i} degF`);
      await field.press("Enter");
    });
    assert.deepEqual(at.troubles, []);
  });

  test("an hour of a profile", async (t) => {
    await at.page.getByRole("tab", { name: /profiles.csv/ }).click();
    await measured(t, "profile", (i) => typeInto(0, 13, String(0.8 + 0.01 * i)));
    assert.deepEqual(at.troubles, []);
  });
});
