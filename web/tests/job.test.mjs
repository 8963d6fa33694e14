// The main job: open the demo, change it, see what follows, take it back.

import assert from "node:assert/strict";
import { copyFileSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { after, before, beforeEach, describe, test } from "node:test";
import { browser, open, project, serve, settled, until } from "./support.mjs";

describe("the job", { concurrency: 1 }, () => {
  let job, server, instance, at;
  const rooms = () => readFileSync(join(job.folder, "rooms.csv"), "utf8");
  const toml = () => readFileSync(join(job.folder, "project.toml"), "utf8");
  const cell = (row, column) => at.page.locator(`.inputs [data-r="${row}"][data-c="${column}"]`);

  before(async () => {
    instance = await browser();
  });
  after(async () => {
    await instance?.close();
  });
  beforeEach(async () => {
    await at?.context.close();
    server?.kill();
    job?.remove();
    job = project();
    server = await serve(job.folder);
    at = await open(instance, server.address);
    await settled(at.page);
  });
  after(async () => {
    server?.kill();
    job?.remove();
  });

  test("an edited cell is written, sized again, and taken back", async () => {
    const original = rooms();
    const figure = at.page.locator(".figure", { hasText: /(Least|Smallest) dew-point margin/ }).first().locator(".figure-value");
    const before = await at.page.locator(".figures").innerText();
    await cell(2, 7).dblclick();
    await at.page.keyboard.press("Control+A");
    await at.page.keyboard.type("90");
    await at.page.keyboard.press("Enter");
    await until(() => rooms() === original.replace("counter-hall,1500,9.5,40,", "counter-hall,1500,9.5,90,"));
    await until(async () => (await at.page.locator(".figures").innerText()) !== before, 60_000);
    await settled(at.page);
    assert.match(await figure.innerText(), /\d/);
    await at.page.getByRole("button", { name: "Undo" }).click();
    await until(() => rooms() === original);
    await until(async () => (await cell(2, 7).innerText()) === "40");
    await at.page.getByRole("button", { name: "Redo" }).click();
    await until(() => rooms() !== original);
    assert.deepEqual(at.troubles, []);
  });

  test("a block of a spreadsheet goes in, comes out, and is one step", async () => {
    const original = rooms();
    await cell(0, 7).click();
    await at.page.evaluate(() => navigator.clipboard.writeText("1\t3\n2\t4\n5\t6\n"));
    await at.page.keyboard.press("Control+V");
    await until(() => /^101,.*,1,3,/m.test(rooms()) && /^103,.*,5,6,/m.test(rooms()));
    await at.page.keyboard.press("Control+C");
    await until(async () => (await at.page.evaluate(() => navigator.clipboard.readText())) === "1\t3\n2\t4\n5\t6");
    await at.page.keyboard.press("Control+Z");
    await until(() => rooms() === original);
    assert.deepEqual(at.troubles, []);
  });

  test("a mistake is marked at its cell, and the numbers before it are marked as such", async () => {
    await cell(0, 4).dblclick();
    await at.page.keyboard.press("Control+A");
    await at.page.keyboard.type("no-such-kind");
    await at.page.keyboard.press("Enter");
    await at.page.locator('.inputs [data-r="0"][data-c="4"].has-error').waitFor();
    await at.page.locator(".figure.stale").first().waitFor();
    await cell(0, 4).click();
    await at.page.locator(".cell-help .finding-line.error").waitFor();
    await at.page.getByRole("button", { name: "Undo" }).click();
    await settled(at.page);
    assert.equal(await at.page.locator(".figure.stale").count(), 0);
    assert.deepEqual(at.troubles, []);
  });

  test("a key of the project keeps its comment, in any unit", async () => {
    const original = toml();
    await at.page.getByRole("link", { name: "Dew point" }).click();
    const field = at.page.getByLabel("room limit", { exact: true });
    await field.fill("13 degC");
    await field.press("Enter");
    await until(() => toml() === original.replace('room_limit = "55 degF"', 'room_limit = "13 degC"'));
    await settled(at.page);
    await at.page.getByRole("button", { name: "Undo" }).click();
    await until(() => toml() === original);
    assert.deepEqual(at.troubles, []);
  });

  test("any number opens its working, in both unit systems", async () => {
    await at.page.getByRole("button", { name: /(Least|Smallest) dew-point margin/ }).click();
    const sheet = at.page.getByRole("dialog", { name: "Working" });
    await sheet.getByText("=").first().waitFor();
    const ip = await sheet.innerText();
    assert.match(ip, /degF/);
    await at.page.keyboard.press("Escape");
    await at.page.getByRole("button", { name: "SI", exact: true }).click();
    await until(async () => /K/.test(await at.page.locator(".figure-value").first().innerText()));
    assert.deepEqual(at.troubles, []);
  });

  test("an edit from outside is shown, and what both changed is asked", async () => {
    writeFileSync(join(job.folder, "rooms.csv"), rooms().replace("lobby,1250,9.5,16,", "lobby,1250,9.5,17,"));
    await until(async () => (await cell(1, 7).innerText()) === "17");
    // Somebody saves while a cell is open.
    await cell(1, 7).dblclick();
    await at.page.keyboard.press("Control+A");
    await at.page.keyboard.type("20");
    writeFileSync(join(job.folder, "rooms.csv"), rooms().replace("lobby,1250,9.5,17,", "lobby,1250,9.5,18,"));
    await at.page.keyboard.press("Enter");
    const ask = at.page.getByRole("dialog", { name: "Somebody else changed the same" });
    await ask.waitFor();
    assert.match(rooms(), /lobby,1250,9.5,18,/);
    await ask.getByRole("button", { name: "Write mine" }).click();
    await until(() => /lobby,1250,9.5,20,/.test(rooms()));
    const expected = at.troubles.filter((t) => !/409/.test(t));
    assert.deepEqual(expected, []);
  });

  test("what was written stays when the program is killed", async () => {
    await cell(0, 7).click();
    await at.page.keyboard.type("3");
    await at.page.keyboard.press("Enter");
    await until(() => /^101,.*,9.5,3,/m.test(rooms()));
    server.kill();
    await server.ended;
    assert.match(rooms(), /^101,.*,9.5,3,/m);
    server = await serve(job.folder);
    const again = await open(instance, server.address);
    assert.equal(await again.page.locator('.inputs [data-r="0"][data-c="7"]').innerText(), "3");
    await again.context.close();
  });

  test("from an empty project to its papers", async () => {
    await at.context.close();
    server.kill();
    job.remove();
    job = project("--blank");
    server = await serve(job.folder);
    at = await open(instance, server.address);
    await at.page.locator(".findings-figure.bad").waitFor();
    // The weather of the blank project is `year.csv`; it may come at any time.
    const weather = fileURLToPath(new URL("../../examples/weather/greensboro-nc-tmy3.csv", import.meta.url));
    copyFileSync(weather, join(job.folder, "year.csv"));
    await at.page.getByRole("grid", { name: "rooms.csv" }).focus();
    const list = "101\tOffice\t1\toffice-enclosed\t160\t1\n102\tMeeting room\t1\tmeeting\t320\t12\n";
    await at.page.evaluate((text) => navigator.clipboard.writeText(text), list);
    await at.page.keyboard.press("Control+V");
    await until(() => /^102,Meeting room,1,meeting,320,12/m.test(rooms()));
    await settled(at.page);
    await at.page.getByRole("link", { name: "Papers" }).click();
    await at.page.frameLocator("iframe").getByRole("heading", { name: "Owner's page" }).first().waitFor({ timeout: 60_000 });
    assert.deepEqual(at.troubles, []);
  });
});
