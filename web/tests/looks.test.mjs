// Every stage in both themes and at two widths: rules of accessibility, messages of the console, weight, keyboard alone.

import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { after, before, describe, test } from "node:test";
import { brotliCompressSync, gzipSync } from "node:zlib";
import { browser, open, project, serve, settled } from "./support.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const STAGES = ["Site", "Rooms", "Dew point", "Terminals", "Primary air", "Water", "Year", "Excursion", "Sequence", "Papers"];
const LOOKS = [[1280, false], [1920, true], ...(process.env.DRYCOIL_SHORT ? [] : [[1280, true], [1920, false]])];

describe("looks", { concurrency: 1 }, () => {
  let job, server, instance;
  before(async () => {
    job = project();
    server = await serve(job.folder);
    instance = await browser();
  });
  after(async () => {
    await instance?.close();
    server?.kill();
    job?.remove();
  });

  for (const [width, dark] of LOOKS) {
    test(`${width} wide, ${dark ? "dark" : "light"}`, async () => {
      const at = await open(instance, server.address, { width, height: width === 1280 ? 800 : 1080, dark });
      await settled(at.page);
      assert.equal(await at.page.evaluate(() => document.documentElement.dataset.theme), dark ? "dark" : "light");
      for (const stage of STAGES) {
        await at.page.getByRole("navigation").getByRole("link", { name: stage }).click();
        await at.page.locator(".question h2", { hasText: stage }).waitFor();
        await at.page.waitForTimeout(300);
        // Papers have rules of their own, judged with the papers.
        const result = await inIsolation(at.page);
        assert.ok(result.passed > 15, "the rules were run");
        const shown = result.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html).join(" | ")}`);
        assert.deepEqual(shown, [], `${stage}, ${width}, ${dark ? "dark" : "light"}`);
        const wide = await at.page.evaluate(() => document.documentElement.scrollWidth <= innerWidth);
        assert.ok(wide, `${stage} is wider than the window`);
      }
      assert.deepEqual(at.troubles, []);
      await at.context.close();
    });
  }

  /** Rules run in a world of their own, where the policy of the page does not hold. */
  async function inIsolation(page) {
    const session = await page.context().newCDPSession(page);
    const { frameTree } = await session.send("Page.getFrameTree");
    const { executionContextId } = await session.send("Page.createIsolatedWorld", { frameId: frameTree.frame.id, worldName: "rules" });
    await session.send("Runtime.evaluate", { contextId: executionContextId, expression: axe });
    const { result } = await session.send("Runtime.evaluate", {
      contextId: executionContextId,
      expression: "axe.run({ exclude: ['iframe'] }, { iframes: false }).then((r) => JSON.stringify({ violations: r.violations, passed: r.passes.length }))",
      awaitPromise: true,
      returnByValue: true,
    });
    return JSON.parse(result.value);
  }

  test("the page weighs little", () => {
    const folder = new URL("../../crates/server/page/", import.meta.url).pathname;
    const files = readdirSync(folder).filter((f) => !f.endsWith(".sha256")).map((f) => readFileSync(join(folder, f)));
    const most = Number(process.env.DRYCOIL_MOST_COMPRESSED ?? 500_000);
    const gzip = files.reduce((n, f) => n + gzipSync(f).length, 0);
    assert.ok(gzip < most && gzip > 1000, `${gzip} bytes`);
    assert.ok(files.reduce((n, f) => n + brotliCompressSync(f).length, 0) <= gzip);
  });

  test("the keyboard is enough", async () => {
    const at = await open(instance, server.address);
    await settled(at.page);
    const rooms = () => readFileSync(join(job.folder, "rooms.csv"), "utf8");
    const original = rooms();
    const focused = () => at.page.evaluate(() => document.activeElement?.getAttribute("role") ?? document.activeElement?.tagName);
    for (let i = 0; i < 60 && (await focused()) !== "grid"; i += 1) await at.page.keyboard.press("Tab");
    assert.equal(await focused(), "grid");
    for (let i = 0; i < 7; i += 1) await at.page.keyboard.press("ArrowRight");
    await at.page.keyboard.press("ArrowDown");
    // Type over, fill down, take both back.
    await at.page.keyboard.type("11");
    await at.page.keyboard.press("Enter");
    await at.page.keyboard.press("ArrowUp");
    await at.page.keyboard.press("Shift+ArrowDown");
    await at.page.keyboard.press("Shift+ArrowDown");
    await at.page.keyboard.press("Control+d");
    const end = Date.now() + 10_000;
    while (!(/^102,.*,11,/m.test(rooms()) && /^104,.*,11,/m.test(rooms()))) {
      assert.ok(Date.now() < end, rooms().slice(0, 400));
      await at.page.waitForTimeout(50);
    }
    await at.page.keyboard.press("Control+z");
    await at.page.keyboard.press("Control+z");
    while (rooms() !== original) {
      assert.ok(Date.now() < end + 10_000);
      await at.page.waitForTimeout(50);
    }
    // Out of the grid again.
    await at.page.keyboard.press("Tab");
    assert.notEqual(await focused(), "grid");
    assert.deepEqual(at.troubles, []);
    await at.context.close();
  });
});
