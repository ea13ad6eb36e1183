// A case, its sheets and a browser for the checks.
import { execFileSync } from "node:child_process";
import { mkdtempSync, mkdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { delimiter, dirname, join, resolve } from "node:path";
import { existsSync } from "node:fs";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

export const here = dirname(fileURLToPath(import.meta.url));
export const root = resolve(here, "../..");
export const binary = resolve(root, process.env.FALLWRIGHT_BIN || "target/release/fallwright");
export const python = resolve(root, process.env.FALLWRIGHT_PYTHON || ".venv/bin/python");
export const pictures = join(here, "out");
mkdirSync(pictures, { recursive: true });

export function run(...args) {
  return execFileSync(binary, args, { encoding: "utf8", maxBuffer: 1 << 28, stdio: ["ignore", "pipe", "inherit"] });
}

export function temporaryFolder() {
  const folder = mkdtempSync(join(tmpdir(), "fallwright-browser-"));
  process.on("exit", () => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

let demonstration = null;
// The demonstration case and its page.
export function demo() {
  if (!demonstration) {
    const folder = temporaryFolder();
    const caseFile = join(folder, "case", "case.toml");
    run("demo", join(folder, "case"), "--quiet");
    run("sheets", caseFile, "--out", join(folder, "sheets"), "--no-pdf", "--quiet");
    demonstration = { folder, caseFile, page: join(folder, "sheets", "overview.html") };
  }
  return demonstration;
}

function executable() {
  const names = ["chromium", "chromium-browser", "google-chrome-stable", "google-chrome"];
  const found = process.env.PATH.split(delimiter).flatMap((dir) => names.map((name) => join(dir, name))).find(existsSync);
  if (!found) throw new Error("no Chromium on the path; Debian: apt-get install chromium");
  return found;
}

export const launch = () => chromium.launch({ executablePath: executable(), args: ["--no-sandbox"] });

// A page that notes everything it must not do: console errors, exceptions, requests, dialogs.
export async function open(browser, file, viewport = { width: 1280, height: 900 }, options = {}) {
  const context = await browser.newContext({ viewport, ...options });
  const page = await context.newPage();
  const faults = [];
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && faults.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => faults.push(`exception: ${error.message}`));
  page.on("dialog", (dialog) => { faults.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
  page.on("popup", () => faults.push("a window was opened"));
  const own = pathToFileURL(file).href;
  page.on("request", (request) => {
    if (request.url() !== own && !request.url().startsWith("data:")) faults.push(`request: ${request.url()}`);
  });
  await page.goto(own);
  await page.waitForSelector("body[data-ready]");
  await page.waitForSelector("#all tbody tr");
  return { page, faults, context };
}

export const data = (page) => page.evaluate(() => JSON.parse(document.getElementById("data").textContent));
