// Judges folders of documents: `node check.mjs BROWSER FOLDER...`. Every file by an HTML validator, on all cores; with a
// browser (`-` for none) every document but the long calculation books also by accessibility rules, as it is printed: the
// owner's page on one page, a room sheet on one or two, nothing wider than its paper.
import { HtmlValidate } from "html-validate";
import { readFileSync, readdirSync } from "node:fs";
import { createRequire } from "node:module";
import { availableParallelism } from "node:os";
import { basename, join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { Worker, isMainThread, parentPort } from "node:worker_threads";

// Ours by choice: one line without indentation, pictures with their own style.
const RULES = { "no-inline-style": "off", "no-trailing-whitespace": "off", "long-title": "off", "require-sri": "off" };

if (!isMainThread) {
  const validator = new HtmlValidate({ extends: ["html-validate:standard", "html-validate:a11y"], rules: RULES });
  parentPort.on("message", async (file) => {
    const report = await validator.validateString(readFileSync(file, "utf8"), file);
    const found = report.results.flatMap((r) => r.messages.map((m) => `${m.line}:${m.column} ${m.ruleId}: ${m.message}`));
    parentPort.postMessage({ file, found });
  });
} else {
  await main();
}

async function main() {
  const [browserPath, ...folders] = process.argv.slice(2);
  const files = folders.flatMap((f) => readdirSync(f).filter((n) => n.endsWith(".html")).map((n) => resolve(join(f, n))));
  if (files.length === 0) throw new Error("there are no documents");
  let problems = 0;
  const say = (file, text) => { problems += 1; if (problems <= 40) console.error(`${file}: ${text}`); };

  await validate(files, say);
  console.log(`${files.length} documents validated`);
  if (browserPath !== "-") {
    const short = files.filter((f) => !/calculation-book-(?!1\.)/.test(f));
    await examine(browserPath, short, say);
    console.log(`${short.length} documents examined in the browser`);
  }
  if (problems > 0) { console.error(`${problems} problems`); process.exit(1); }
}

/// Each worker takes the next file, the largest first.
async function validate(files, say) {
  const queue = files.map((file) => ({ file, size: readFileSync(file).length })).sort((a, b) => a.size - b.size);
  const workers = Array.from({ length: Math.min(availableParallelism(), queue.length) }, () => new Promise((done, failed) => {
    const worker = new Worker(fileURLToPath(import.meta.url));
    const next = () => { const job = queue.pop(); if (job) worker.postMessage(job.file); else worker.terminate().then(() => done()); };
    worker.on("message", ({ file, found }) => { for (const f of found) say(file, f); next(); });
    worker.on("error", failed);
    next();
  }));
  await Promise.all(workers);
}

async function examine(browserPath, files, say) {
  const { default: puppeteer } = await import("puppeteer-core");
  const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
  const browser = await puppeteer.launch({ executablePath: browserPath, headless: true, args: ["--no-sandbox"], protocolTimeout: 600_000 });
  for (const file of files) {
    const page = await browser.newPage();
    await page.goto(pathToFileURL(file).href);
    // As on paper first: the rules add their own script to the page.
    await page.emulateMediaType("print");
    const across = await page.evaluate(() => [...document.styleSheets].some((s) => [...s.cssRules].some((r) => r.cssText.includes("landscape"))));
    // Letter less its margins, at 96 dots an inch; A4 across is wider, A4 upright is 0.24 in narrower.
    const wide = Math.floor((across ? 11 : 210 / 25.4) * 96 - 2 * 0.6 * 96);
    await page.setViewport({ width: wide, height: 1000 });
    const over = await page.evaluate(() => [...document.querySelectorAll("body *")]
      .filter((e) => !e.closest("svg") && !e.closest(".skip") && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
      .map((e) => `${e.tagName} ${e.textContent.slice(0, 60)}`));
    if (over.length > 0) say(file, `${over.length} parts wider than the paper, first ${over[0]}`);
    const parts = await page.evaluate(() => document.querySelectorAll("section.sheet").length);
    const pdf = Buffer.from(await page.pdf({ preferCSSPageSize: true, printBackground: true, timeout: 600_000 })).toString("latin1");
    const pages = (pdf.match(/\/Type \/Page\b(?!s)/g) ?? []).length;
    const name = basename(file, ".html");
    if (pages < 1) say(file, "the print has no page");
    if (name === "owners-page" && pages !== 1) say(file, `${pages} pages instead of one`);
    if (name === "room-sheets" && (pages < parts || pages > 2 * parts + 2)) say(file, `${pages} pages for ${parts} rooms`);
    console.log(`${basename(resolve(file, ".."))}/${name}: ${pages} pages`);
    await page.emulateMediaType("screen");
    await page.setViewport({ width: 1280, height: 1000 });
    await page.evaluate(axe);
    const result = await page.evaluate(() => globalThis.axe.run());
    for (const v of result.violations) say(file, `${v.id} (${v.nodes.length}): ${v.help}; ${v.nodes[0].html.slice(0, 160)}`);
    await page.close();
  }
  await browser.close();
}
