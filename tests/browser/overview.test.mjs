// The overview page of the demonstration case: every interaction, without faults and without network.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { data, demo, launch, open, pictures, root } from "./support.mjs";

const require = createRequire(import.meta.url);
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
let browser, page, faults;

before(async () => {
  browser = await launch();
  ({ page, faults } = await open(browser, demo().page));
});
after(async () => {
  await browser.close();
  assert.deepEqual(faults, []);
});

const lead = () => page.textContent("#answer .lead");
const owner = () => page.textContent("#answer h2");

async function seek(words) {
  await page.fill("#find", words);
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("Enter");
}

test("the vendored Leaflet is the package's", () => {
  const folder = join(root, "crates/report/src/overview/vendor/leaflet-1.9.4");
  for (const [ours, theirs] of [["leaflet.js", "dist/leaflet.js"], ["leaflet.css", "dist/leaflet.css"], ["LICENSE", "LICENSE"]]) {
    const path = join(require.resolve("leaflet/package.json"), "..", theirs);
    assert.ok(readFileSync(join(folder, ours)).equals(readFileSync(path)), ours);
  }
});

test("the page asks before anything is chosen", async () => {
  assert.match(await page.textContent("#answer"), /Whose land does your water cross/);
  assert.match(await page.textContent("footer"), /BSD 2-Clause License/);
  assert.match(await page.textContent("footer"), /What was thinned/);
});

test("land is found by roll number, owner and legal description", async () => {
  const { parcels } = await data(page);
  for (const parcel of [parcels[3], parcels[40], parcels[70]]) {
    for (const words of [parcel.id, parcel.owner, parcel.legal]) {
      await seek(words);
      assert.equal(await owner(), parcel.owner, words);
    }
  }
});

test("a finding names the lands crossed in order, its next step, its evidence and its sufficiency", async () => {
  const { parcels, roads, texts } = await data(page);
  for (const parcel of parcels) {
    await seek(parcel.id);
    const share = parcel.shares.find((share) => !share.is_remainder);
    if (!share) continue;
    const found = await page.$$eval("#answer ol.way li strong", (items) => items.map((item) => item.textContent));
    const name = (land) => (land <= -4 ? roads[-4 - land].name : land === -1 ? "land in no parcel" : parcels[land].owner);
    assert.deepEqual(found, [...share.crossings.map((crossing) => name(crossing[0])), texts[share.to]], parcel.id);
    const answer = await page.textContent("#answer");
    assert.ok(answer.includes(parcel.next_step), parcel.id);
    assert.ok(answer.includes("Is that outlet large enough?"), parcel.id);
    if (parcel.evidence.length > 0) assert.ok(answer.includes(`Evidence (${parcel.evidence.length})`), parcel.id);
    if (share.path_m > 0) assert.equal(await page.locator("#answer svg.profile").count(), 1, parcel.id);
  }
});

test("another leaving point can be shown", async () => {
  const { parcels } = await data(page);
  const parcel = parcels.find((parcel) => parcel.shares.filter((share) => share.line !== null).length > 2);
  await seek(parcel.id);
  const second = parcel.shares.findIndex((share, i) => i > 0 && share.line !== null);
  await page.selectOption("#share", `${second}`);
  assert.match(await page.textContent("#answer"), new RegExp(`${parcel.shares[second].hectares.toFixed(2)} ha of`));
});

test("arriving water is listed with its hectares", async () => {
  const { parcels } = await data(page);
  const parcel = parcels.find((parcel) => parcel.receives.length > 3);
  await seek(parcel.id);
  await page.click("role=button[name='Water arriving']");
  assert.equal(await page.locator("#answer tbody tr").count(), parcel.receives.length);
  assert.match(await lead(), /of other land drain across this land/);
  await page.screenshot({ path: join(pictures, "arriving.png") });
  await page.click("role=button[name='Water leaving']");
  assert.match(await lead(), /water/);
});

test("a press on the map chooses the land there and follows the water from the place", async () => {
  await page.reload();
  await page.waitForSelector("body[data-ready]");
  const box = await page.locator("#map").boundingBox();
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.65);
  assert.match(await lead(), /The water from this place/);
  assert.match(await page.textContent("#place"), /Worked out for the point/);
});

test("the map works by keyboard", async () => {
  await page.focus("#map");
  await page.keyboard.press("+");
  await page.waitForTimeout(300);
  await page.keyboard.press("ArrowRight");
  await page.waitForTimeout(500);
  await page.keyboard.press("Enter");
  assert.match(await lead(), /The water from this place/);
});

test("the table sorts by every column and chooses by keyboard", async () => {
  const heads = page.locator("#all thead button");
  for (let column = 0; column < (await heads.count()); column++) {
    for (const expected of column === 0 ? ["descending", "ascending"] : ["ascending", "descending"]) {
      await heads.nth(column).focus();
      await page.keyboard.press("Enter");
      assert.equal(await page.locator("#all thead th").nth(column).getAttribute("aria-sort"), expected);
      const values = await page.$$eval(`#all tbody td:nth-child(${column + 1})`, (cells) => cells.map((cell) => cell.textContent));
      const isNumber = values.every((value) => value !== "" && !Number.isNaN(Number(value)));
      const compare = (a, b) => (isNumber ? a - b : a.localeCompare(b, "en", { numeric: true }));
      const sorted = [...values].sort((a, b) => (expected === "ascending" ? 1 : -1) * compare(a, b));
      assert.deepEqual(values, sorted);
    }
  }
  const button = page.locator("#all tbody button").nth(5);
  const id = await button.textContent();
  await button.focus();
  await page.keyboard.press("Enter");
  assert.ok((await page.textContent("#answer")).includes(id));
});

test("layers can be shown and hidden, doubts have their own", async () => {
  for (const layer of ["parcels", "waters", "limits", "ground", "doubts"]) {
    const box = page.locator(`#show-${layer}`);
    const was = await box.isChecked();
    const before = await page.locator("#map *").count();
    await box.click();
    const after = await page.locator("#map *").count();
    assert.ok(was ? after < before : after > before, layer);
    await box.click();
  }
  const { doubts } = await data(page);
  assert.ok(doubts.length > 0);
  await page.locator("#doubts button").first().click();
  assert.ok((await page.textContent("#answer")).includes(doubts[0].what));
  await page.waitForSelector("#map .check");
  await page.locator("#map .check").first().focus();
  await page.keyboard.press("Enter");
  assert.match(await owner(), /Place to check/);
});

test("no rule of axe is broken in a serious way", async () => {
  for (const [state, act] of [["asked", async () => page.reload()], ["chosen", () => seek("a")], ["arriving", () => page.click("role=button[name='Water arriving']")]]) {
    await act();
    await page.waitForSelector("#all tbody tr");
    await page.waitForSelector("body[data-ready]");
    // The tool is put in by the debugger, past the page's policy.
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => axe.run());
    const serious = violations.filter((violation) => ["serious", "critical"].includes(violation.impact));
    assert.deepEqual(serious.map((v) => `${state} ${v.id}: ${v.nodes.map((node) => node.html).slice(0, 3)}`), []);
  }
});

test("three sizes, none of them wider than the screen", async () => {
  const sizes = { desktop: { width: 1440, height: 900 }, zoomed: { width: 640, height: 450 }, phone: { width: 390, height: 844 } };
  for (const [name, viewport] of Object.entries(sizes)) {
    const opened = await open(browser, demo().page, viewport);
    await opened.page.screenshot({ path: join(pictures, `${name}.png`) });
    await opened.page.fill("#find", "0527-030-005-00420");
    await opened.page.keyboard.press("Enter");
    await opened.page.screenshot({ path: join(pictures, `${name}-chosen.png`), fullPage: true });
    const [wide, screen] = await opened.page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
    assert.ok(wide <= screen, `${name}: ${wide} px on a screen of ${screen} px`);
    assert.deepEqual(opened.faults, []);
    await opened.context.close();
  }
});
