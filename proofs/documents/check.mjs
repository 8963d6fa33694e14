// Judges folders of documents: `node check.mjs BROWSER FOLDER...`. Every file by an HTML validator; with a browser (`-` for
// none) every document but the long calculation books also by accessibility rules.
import { HtmlValidate } from "html-validate";
import { readFileSync, readdirSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const [browserPath, ...folders] = process.argv.slice(2);
const files = folders.flatMap((f) => readdirSync(f).filter((n) => n.endsWith(".html")).map((n) => resolve(join(f, n))));
if (files.length === 0) throw new Error("there are no documents");
let problems = 0;
const say = (file, text) => { problems += 1; if (problems <= 40) console.error(`${file}: ${text}`); };

const validator = new HtmlValidate({
  extends: ["html-validate:standard", "html-validate:a11y"],
  // Ours by choice: one line without indentation, pictures with their own style.
  rules: { "no-inline-style": "off", "no-trailing-whitespace": "off", "long-title": "off", "require-sri": "off" },
});
for (const file of files) {
  const report = await validator.validateString(readFileSync(file, "utf8"), file);
  for (const r of report.results) for (const m of r.messages) say(file, `${m.line}:${m.column} ${m.ruleId}: ${m.message}`);
}
console.log(`${files.length} documents validated`);

if (browserPath !== "-") {
  const { default: puppeteer } = await import("puppeteer-core");
  const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
  const browser = await puppeteer.launch({ executablePath: browserPath, headless: true, args: ["--no-sandbox"] });
  const short = files.filter((f) => !f.includes("calculation-book") || f.includes("calculation-book-1"));
  for (const file of short) {
    const page = await browser.newPage();
    await page.goto(pathToFileURL(file).href);
    await page.evaluate(axe);
    const result = await page.evaluate(() => globalThis.axe.run());
    for (const v of result.violations) say(file, `${v.id} (${v.nodes.length}): ${v.help}; ${v.nodes[0].html.slice(0, 160)}`);
    await page.close();
  }
  await browser.close();
  console.log(`${short.length} documents examined for accessibility`);
}
if (problems > 0) { console.error(`${problems} problems`); process.exit(1); }
