// A copy of the demo, a server on it, a browser on that.

import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const PROGRAM = process.env.DRYCOIL ?? "../target/debug/drycoil";
const BROWSERS = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

/**
 * A folder with a copy of the demo (or the smallest project), gone after the tests. Its year has steps of an hour, so that a
 * program that is built for tests has it soon; `timed()` gives the demo as it is.
 */
export function project(...args) {
  const made = timed(...args);
  const file = join(made.folder, "project.toml");
  const text = readFileSync(file, "utf8").replace("\n[year]\n", '\n[year]\nstep = "60 min"\n');
  writeFileSync(file, text.replace('average_over = "15 min"', 'average_over = "60 min"'));
  return made;
}

/** The demo as it is, or the smallest project. */
export function timed(...args) {
  const folder = join(mkdtempSync(join(tmpdir(), "drycoil-page-")), "job");
  const made = spawnSync(PROGRAM, ["new", folder, "--quiet", ...args], { encoding: "utf8" });
  if (made.status !== 0) throw new Error(`drycoil new: ${made.stderr}`);
  return { folder, remove: () => rmSync(join(folder, ".."), { recursive: true, force: true }) };
}

/** A server on a folder; `kill` ends it as a crash would. */
export async function serve(folder) {
  const child = spawn(PROGRAM, ["open", folder, "--no-browser"], { stdio: ["ignore", "pipe", "pipe"] });
  const address = await new Promise((resolve, reject) => {
    let text = "";
    child.stdout.on("data", (data) => {
      text += data;
      const found = /http:\S+/.exec(text);
      if (found) resolve(found[0]);
    });
    let errors = "";
    child.stderr.on("data", (data) => {
      errors += data;
    });
    child.on("exit", (code) => reject(new Error(`drycoil open ended with ${code}: ${errors}`)));
  });
  return { address, kill: () => child.kill("SIGKILL"), ended: new Promise((r) => child.on("exit", r)) };
}

export async function browser() {
  const executablePath = process.env.BROWSER_PROGRAM ?? BROWSERS.find((p) => existsSync(p));
  if (!executablePath) throw new Error("no browser of the Chromium family is installed");
  return chromium.launch({
    executablePath,
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"],
  });
}

/** While the page is worked on: its files from a folder, so that the program need not be built for every try. */
async function fromFolder(page, folder) {
  for (const [name, contentType] of [["page.js", "text/javascript"], ["page.css", "text/css"]]) {
    await page.route(`**/${name}`, (r) => r.fulfill({ body: readFileSync(join(folder, name)), contentType }));
  }
}

/** A window on a server that fails on any message of the console. */
export async function open(instance, address, options = {}) {
  const context = await instance.newContext({
    viewport: { width: options.width ?? 1280, height: options.height ?? 800 },
    colorScheme: options.dark ? "dark" : "light",
    permissions: ["clipboard-read", "clipboard-write"],
  });
  const page = await context.newPage();
  const troubles = [];
  page.on("console", (m) => {
    if (m.type() === "error" || m.type() === "warning") troubles.push(m.text());
  });
  page.on("pageerror", (e) => troubles.push(String(e)));
  if (process.env.DRYCOIL_PAGE) await fromFolder(page, process.env.DRYCOIL_PAGE);
  await page.goto(address);
  await page.getByRole("grid").first().waitFor();
  return { page, context, troubles };
}

/** Everything is as new as the files. */
export async function settled(page) {
  await page.waitForFunction(() => document.querySelector(".doing [role=status]")?.textContent === "Up to date", null, {
    timeout: 120_000,
  });
}

/** Asks until it is so. */
export async function until(what, ms = 8000) {
  const end = Date.now() + ms;
  for (;;) {
    if (await what()) return;
    if (Date.now() > end) throw new Error(`not within ${ms} ms: ${what}`);
    await new Promise((r) => setTimeout(r, 40));
  }
}
