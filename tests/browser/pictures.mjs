// The README's pictures from the demonstration case: node pictures.mjs FOLDER
import { execFileSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import { join, resolve } from "node:path";
import { demo, launch, open, run } from "./support.mjs";

const PARCEL = "0527-030-005-00420";
const folder = resolve(process.argv[2]);
mkdirSync(folder, { recursive: true });
const browser = await launch();
const { page } = await open(browser, demo().page, { width: 1200, height: 800 });
await page.fill("#find", PARCEL);
await page.keyboard.press("Enter");
await page.screenshot({ path: join(folder, "overview.png") });
await browser.close();

const sheets = join(demo().folder, "printed");
run("sheets", demo().caseFile, "--out", sheets, "--parcel", PARCEL, "--quiet");
execFileSync("pdftoppm", ["-png", "-r", "72", "-singlefile", join(sheets, "water_paths.pdf"), join(folder, "water_paths")]);
