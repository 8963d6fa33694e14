// What may be done on pictures, excursions, and text that was not finished.

import assert from "node:assert/strict";
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, beforeEach, describe, test } from "node:test";
import { browser, open, project, serve, settled, until } from "./support.mjs";

describe("pictures", { concurrency: 1 }, () => {
  let job, server, instance, at;
  const toml = () => readFileSync(join(job.folder, "project.toml"), "utf8");
  const rooms = () => readFileSync(join(job.folder, "rooms.csv"), "utf8");
  const stage = async (name) => {
    await at.page.getByRole("navigation").getByRole("link", { name }).click();
    await at.page.locator(".question h2", { hasText: name }).waitFor();
  };

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
  beforeEach(async () => {
    await at?.context.close();
    at = await open(instance, server.address);
    await settled(at.page);
  });

  test("a state of air is read under the pointer, and the supply state is dragged to a pin", async () => {
    const original = toml();
    await stage("Dew point");
    const begun = await at.page.getByRole("slider", { name: "Supply dew point on the curve" }).getAttribute("aria-valuenow");
    const chart = at.page.getByRole("figure", { name: "Psychrometric chart" });
    await chart.scrollIntoViewIfNeeded();
    const field = chart.locator(".catch");
    const box = await field.boundingBox();
    await at.page.mouse.move(box.x + box.width * 0.7, box.y + box.height * 0.7);
    await chart.locator(".reading").getByText("Relative humidity").waitFor();
    const ring = chart.getByRole("slider", { name: "Supply dew point" });
    const from = await ring.boundingBox();
    await at.page.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
    await at.page.mouse.down();
    await at.page.mouse.move(from.x + from.width / 2, from.y + from.height / 2 - 12, { steps: 4 });
    await chart.locator(".handle text").waitFor();
    await at.page.mouse.up();
    await until(() => /^supply = "\d+\.\d degF"$/m.test(toml()));
    const pinned = toml();
    const line = /^supply = .*\n/m.exec(pinned)[0];
    assert.equal(pinned.replace(line, ""), original, "nothing else changed");
    await settled(at.page);
    await at.page.locator(".figure", { hasText: "Supply dew point" }).getByText(/supply = "(.*)"/.exec(line)[1]).waitFor();
    await at.page.getByRole("button", { name: "Undo" }).click();
    await until(() => toml() === original);
    // The same on the curve, by keyboard alone.
    const grip = at.page.getByRole("slider", { name: "Supply dew point on the curve" });
    await until(async () => (await grip.getAttribute("aria-valuenow")) === begun, 60_000);
    await settled(at.page);
    await grip.focus();
    for (let i = 0; i < 5; i += 1) await at.page.keyboard.press("ArrowRight");
    await at.page.keyboard.press("Enter");
    await until(() => /^supply = "\d+\.\d degF"$/m.test(toml()));
    await settled(at.page);
    await at.page.keyboard.press("Control+z");
    await until(() => toml() === original);
    assert.deepEqual(at.troubles, []);
  });

  test("a day of the carpet shows its hours, a room of the margins its inputs", async () => {
    await stage("Year");
    const carpet = at.page.getByRole("figure", { name: "Smallest margin of every hour" });
    const box = await carpet.locator(".catch").boundingBox();
    await at.page.mouse.click(box.x + box.width * 0.55, box.y + box.height / 2);
    await carpet.getByRole("heading", { name: "20 July" }).waitFor();
    assert.equal(await carpet.locator("tbody tr").count(), 24);
    await carpet.getByRole("button", { name: "Day after" }).click();
    await carpet.getByRole("heading", { name: "21 July" }).waitFor();
    await stage("Terminals");
    await at.page.getByRole("figure", { name: "Dew-point margin by room" }).getByRole("button", { name: /^Room 226/ }).click();
    await at.page.locator(".question h2", { hasText: "Rooms" }).waitFor();
    await at.page.locator(".inputs .cell.active", { hasText: "226" }).waitFor();
    assert.deepEqual(at.troubles, []);
  });

  test("a case runs, is played, and is stopped", async () => {
    await stage("Excursion");
    await at.page.getByRole("button", { name: "Door held open" }).click();
    await at.page.getByRole("button", { name: "Run the chosen case" }).click();
    const player = at.page.getByRole("region", { name: "Door held open" });
    await player.getByRole("button", { name: "Play" }).waitFor({ timeout: 60_000 });
    const clock = player.locator(".clock");
    const begun = await clock.innerText();
    await player.getByRole("button", { name: "Play" }).click();
    await until(async () => (await clock.innerText()) !== begun);
    await player.getByRole("button", { name: "Pause" }).click();
    await player.getByRole("slider", { name: "Time" }).focus();
    await at.page.keyboard.press("Home");
    assert.equal(await player.locator(".moment dd").count(), 11);
    await player.getByRole("button", { name: /^Zone 102:/ }).click();
    await player.getByRole("heading", { name: "Stages of zone 102" }).waitFor();
    await at.page.getByRole("button", { name: "Run all cases" }).click();
    await at.page.getByRole("button", { name: "Stop", exact: true }).click();
    await until(async () => (await at.page.locator(".excursion progress").count()) === 0);
    assert.ok((await at.page.locator(".cases .word.quiet").count()) > 0, "some cases were not run");
    assert.deepEqual(at.troubles, []);
  });

  test("text that was being typed when the browser ended is offered again", async () => {
    const original = rooms();
    await at.page.locator('.inputs [data-r="2"][data-c="7"]').dblclick();
    await at.page.keyboard.press("Control+A");
    await at.page.keyboard.type("57");
    await until(() => existsSync(join(job.folder, ".drycoil-drafts.json")), 3000);
    assert.equal(rooms(), original);
    // The program dies as well.
    await at.context.close();
    server.kill();
    await server.ended;
    server = await serve(job.folder);
    at = await open(instance, server.address);
    await at.page.getByText("Typed and not finished, rooms.csv, 103, people").waitFor();
    await at.page.getByRole("button", { name: "Put it in" }).click();
    await until(() => rooms() === original.replace("counter-hall,1500,9.5,40,", "counter-hall,1500,9.5,57,"));
    await until(() => !existsSync(join(job.folder, ".drycoil-drafts.json")));
    await settled(at.page);
    await at.page.getByRole("button", { name: "Undo" }).click();
    await until(() => rooms() === original);
    assert.deepEqual(at.troubles, []);
  });
});
