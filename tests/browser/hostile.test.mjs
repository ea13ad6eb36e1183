// Hostile texts in every attribute that reaches the page or a sheet: nothing runs and nothing is fetched.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { data, demo, here, launch, open, python, run, temporaryFolder } from "./support.mjs";

const PAYLOADS = JSON.parse(readFileSync(join(here, "payloads.json"), "utf8"));
let browser, folder;

before(async () => {
  browser = await launch();
  folder = temporaryFolder();
  const given = { from: join(demo().folder, "case"), to: join(folder, "case"), payloads: PAYLOADS };
  execFileSync(python, [join(here, "hostile_case.py")], { input: JSON.stringify(given), stdio: ["pipe", "inherit", "inherit"] });
  run("sheets", join(folder, "case", "case.toml"), "--out", join(folder, "sheets"), "--no-pdf", "--all-parcels", "--quiet");
});
after(() => browser.close());

test("at least 50 payloads are tried", () => assert.ok(PAYLOADS.length >= 50, `${PAYLOADS.length}`));

test("no payload runs on the page, whatever is opened", async () => {
  const { page, faults } = await open(browser, join(folder, "sheets", "overview.html"));
  const { parcels } = await data(page);
  const texts = parcels.flatMap((parcel) => [parcel.id, parcel.owner, parcel.legal]).join("\n");
  for (const payload of PAYLOADS) assert.ok(texts.includes(payload), `not in the page: ${payload}`);
  const buttons = page.locator("#all tbody button");
  for (let row = 0; row < (await buttons.count()); row++) {
    await buttons.nth(row).click();
    await page.click("role=button[name='Water arriving']");
  }
  await page.fill("#find", "a");
  assert.equal(await page.evaluate(() => window.ran), undefined);
  assert.equal(await page.locator("img:not(.leaflet-image-layer), iframe, object, embed, body script:not([type='application/json']) + script + script").count(), 0);
  assert.deepEqual(faults, []);
});

test("no payload runs in a sheet opened as a file", async () => {
  const files = readdirSync(join(folder, "sheets")).filter((name) => name.endsWith(".svg"));
  assert.ok(files.length > 100, `${files.length} sheets`);
  const context = await browser.newContext();
  const page = await context.newPage();
  const faults = [];
  page.on("dialog", (dialog) => { faults.push(dialog.message()); dialog.dismiss(); });
  page.on("request", (request) => { if (!/^(file|data):/.test(request.url())) faults.push(request.url()); });
  page.on("pageerror", (error) => faults.push(error.message));
  for (const file of files.filter((_, i) => i % 5 === 0)) {
    await page.goto(`file://${join(folder, "sheets", file)}`);
    assert.equal(await page.evaluate(() => window.ran), undefined, file);
    assert.equal(await page.evaluate(() => document.querySelector("parsererror")), null, file);
    assert.equal(await page.locator("script, foreignObject, iframe, a").count(), 0, file);
  }
  assert.deepEqual(faults, []);
});

test("no file leaves the folder or has a name that is not plain", () => {
  for (const name of readdirSync(join(folder, "sheets"))) assert.match(name, /^[A-Za-z0-9_-]+\.(html|svg|csv|json)$/);
  assert.deepEqual(readdirSync(folder).sort(), ["case", "sheets"]);
});
