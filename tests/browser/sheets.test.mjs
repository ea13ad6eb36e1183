// Printed sheets: one page where one is promised, text that can be read out, fonts in the file, the same bytes again.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { before, test } from "node:test";
import { demo, run, temporaryFolder } from "./support.mjs";

const PARCEL = "0527-030-005-00420";
// Points: a millimetre is 72/25.4 of them. Sizes in millimetres by ISO 216 and ANSI/ASME Y14.1.
const SIZES = { letter: [215.9, 279.4], "11x17": [279.4, 431.8], a4: [210, 297], a3: [297, 420] };
const CAUTION = "Screening only: not a survey, not a legal opinion.";
let folder;

const tool = (name, ...args) => execFileSync(name, args, { encoding: "utf8" });

function info(file) {
  const text = tool("pdfinfo", file);
  const [, pages] = text.match(/Pages:\s+(\d+)/);
  const [, width, height] = text.match(/Page size:\s+([\d.]+) x ([\d.]+) pts/);
  return { pages: Number(pages), size: [Number(width), Number(height)].sort((a, b) => a - b) };
}

before(() => {
  folder = temporaryFolder();
  for (const paper of Object.keys(SIZES)) {
    run("sheets", demo().caseFile, "--out", join(folder, paper), "--paper", paper, "--parcel", PARCEL, "--quiet");
  }
});

for (const paper of Object.keys(SIZES)) {
  test(`sheets on ${paper}`, () => {
    const drawn = (pattern) => readdirSync(join(folder, paper)).filter((name) => pattern.test(name)).length;
    const [letters, waterPaths] = [drawn(/^letter_.*\.svg$/), drawn(/^water_path_.*\.svg$/)];
    assert.ok(waterPaths <= 2, "a page, and a further one where the paper is too small");
    const large = paper.startsWith("a") ? "a3" : "11x17";
    const promised = { situation: [1, paper], doubts: [1, paper], water_paths: [waterPaths, paper], arriving: [1, paper], plans_and_profiles: [1, large], letters: [letters, paper] };
    assert.equal(letters, 3, "one letter for each owner and road authority on the path");
    for (const [name, [pages, size]] of Object.entries(promised)) {
      const file = join(folder, paper, `${name}.pdf`);
      const found = info(file);
      assert.equal(found.pages, pages, name);
      SIZES[size].forEach((mm, i) => assert.ok(Math.abs(found.size[i] - (mm * 72) / 25.4) < 1.5, `${name}: ${found.size}`));
      const text = tool("pdftotext", "-layout", file, "-").replace(/\s+/g, " ");
      assert.equal(text.split(CAUTION).length - 1, pages, `${name}: the caution once a page`);
      for (const words of ["EPSG:26917", "Heights: metres", "settings", "Page 1 of"]) assert.ok(text.includes(words), `${name}: ${words}`);
      const fonts = tool("pdffonts", file).split("\n").slice(2).filter(Boolean);
      assert.ok(fonts.length > 0, name);
      for (const font of fonts) assert.match(font, /\byes\s+(yes|no)\s+(yes|no)\s/, `${name}: ${font}`);
    }
  });
}

test("a title states the finding, and the path names owners in order", () => {
  const text = tool("pdftotext", "-layout", join(folder, "letter", "water_paths.pdf"), "-").replace(/\s+/g, " ");
  const places = [`crosses 2 other parcels and Teasel Line and reaches municipal drain D-07`, "Clover and Sons Ltd.", "Philippa Wetherstile", "Teasel Line (County of Thrumbleby):"].map((words) => text.indexOf(words));
  assert.ok(places.every((place) => place >= 0), `${places}`);
  assert.deepEqual(places, [...places].sort((a, b) => a - b));
});

test("a profile's table falls along its stations as its sheet says", () => {
  const rows = readFileSync(join(folder, "letter", `profile_parcel_${PARCEL}_1.csv`), "utf8").trim().split("\n").map((row) => row.split(","));
  assert.deepEqual(rows[0].slice(0, 8), ["station_m", "east", "north", "ground_m", "grade_m", "land_kind", "land_id", "land_name"]);
  const points = rows.slice(1).filter((row) => row[1] !== "");
  let along = 0;
  points.forEach((row, i) => {
    if (i > 0) along += Math.hypot(row[1] - points[i - 1][1], row[2] - points[i - 1][2]);
    assert.ok(Math.abs(along - row[0]) < 0.01 * (i + 1), row.join());
  });
  const { features } = JSON.parse(run("trace", demo().caseFile, "--parcel", PARCEL, "--json", "--quiet"));
  const first = features.filter((feature) => feature.properties.share === 1);
  const path = first.find((feature) => feature.properties.kind === "path").properties;
  assert.ok(Math.abs(points.at(-1)[0] - path.path_m) < 0.01);
  const lots = rows.filter((row) => row[10] === "lot_line").map((row) => row[11]);
  assert.deepEqual(lots, first.filter((feature) => feature.properties.kind === "crossing").map(({ properties: to }) => to.to_name ?? to.to_id));
});

test("the same input on the same day gives the same bytes", () => {
  const again = join(folder, "again");
  run("sheets", demo().caseFile, "--out", again, "--parcel", PARCEL, "--quiet");
  for (const name of readdirSync(again)) {
    assert.ok(readFileSync(join(again, name)).equals(readFileSync(join(folder, "letter", name))), name);
  }
});
