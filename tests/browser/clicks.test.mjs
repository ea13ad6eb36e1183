// Presses on the map. A test beside the code holds the grid in the page against a trace of each of 1,000 points; here 1,000
// presses are held against the grid, and some of them against `fallwright trace --at`.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { inflateRawSync } from "node:zlib";
import { data, demo, launch, open, run } from "./support.mjs";

const PRESSES = 1000, TRACED = 12;
let browser, page, faults, content;

before(async () => {
  browser = await launch();
  ({ page, faults } = await open(browser, demo().page));
  content = await data(page);
});
after(async () => {
  await browser.close();
  assert.deepEqual(faults, []);
});

// A generator with a fixed seed (Park and Miller 1988, Communications of the ACM 31, 1192-1201).
let state = 20261125;
const random = () => (state = (state * 48271) % 2147483647) / 2147483647;

function expected(east, north) {
  const { cols, rows, step_m, first_m, entries, planes } = content.click;
  const bytes = (expected.bytes ??= inflateRawSync(Buffer.from(planes, "base64")));
  const col = Math.round((east - first_m[0]) / step_m[0]);
  const row = Math.round((content.size_m[1] - north - first_m[1]) / step_m[1]);
  assert.ok(col >= 0 && col < cols && row >= 0 && row < rows);
  const at = (plane) => bytes.readUInt32LE(4 * (plane * cols * rows + row * cols + col));
  const lands = [];
  let entry = entries[at(0) - 1];
  for (; entry[0] !== -2 && entry[0] !== -3; entry = entries[entry[1]]) lands.push(entry[0]);
  return { lands, to: content.texts[entry[1]], metres: at(4) };
}

const landName = (land) => (land <= -4 ? content.roads[-4 - land].name : land === -1 ? "land in no parcel" : content.parcels[land].owner);

async function said() {
  const place = await page.textContent("#place").catch(() => null);
  if (!place) return null;
  const [, east, north] = place.match(/point ([\d.-]+) E, ([\d.-]+) N/);
  const strong = await page.$$eval("#lands strong", (items) => items.map((item) => item.textContent));
  const metres = Number((await page.textContent("#lands li:last-child")).match(/after (\d+) m/)[1]);
  return { east, north, lands: strong.slice(0, -1), to: strong.at(-1), metres };
}

test("1,000 presses are answered as the grid has it, and as a trace has it", async () => {
  page.setDefaultTimeout(2000);
  const box = await page.locator("#map").boundingBox();
  let answered = 0, traced = 0;
  for (let press = 0; press < PRESSES; press++) {
    const at = [box.x + 70 + random() * (box.width - 80), box.y + 5 + random() * (box.height - 10)];
    await page.mouse.click(...at);
    if ((await page.locator("#place").count()) === 0) {
      assert.match(await page.textContent("#answer"), /No elevation here|do not say|Water leaving/);
      continue;
    }
    const answer = await said();
    answered++;
    const right = expected(answer.east - content.corner[0], answer.north - content.corner[1]);
    assert.deepEqual([answer.lands, answer.to, answer.metres], [right.lands.map(landName), right.to, right.metres]);
    if (traced < TRACED && press % 40 === 0) {
      traced++;
      const { features } = JSON.parse(run("trace", demo().caseFile, "--at", `${answer.east},${answer.north}`, "--json", "--quiet"));
      const crossings = features.filter((feature) => feature.properties.kind === "crossing");
      const names = { parcel: (to) => to.to_owner, road: (to) => `${to.to_name} (${to.to_authority})`, unowned: () => "land in no parcel" };
      const owners = crossings.map(({ properties }) => names[properties.to_kind](properties));
      const path = features.find((feature) => feature.properties.kind === "path").properties;
      assert.deepEqual(answer.lands, owners);
      assert.equal(answer.metres, Math.round(path.path_m));
      if (path.outlet_id) assert.ok(answer.to.includes(path.outlet_id), answer.to);
    }
  }
  assert.ok(answered > PRESSES / 2, `${answered} presses met land`);
  assert.equal(traced, TRACED);
});
