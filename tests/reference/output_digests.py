"""Prints a digest of everything that every command writes and prints, to compare two builds of the program.

    .venv/bin/python tests/reference/output_digests.py CASES before > before.txt
    .venv/bin/python tests/reference/output_digests.py CASES target/release/fallwright > after.txt
    diff before.txt after.txt

CASES is a folder for the cases: the demonstration, the farm valley, the gauged creek and the delta. It is made by the first run and
read by the others, so that all see the same input. PDFs are left out (`--no-pdf`): they are compared as pictures.
"""

import argparse
import hashlib
import json
import shutil
import subprocess
import tempfile
from pathlib import Path

import rasterio
import shapely

import cases
import program
import projection
import test_delta
import test_gauged_creek

REAL_DATA = program.ROOT.parent / "shared/data"
# Enough to meet every kind of answer, and few enough for minutes.
MOST_PARCELS, MOST_OUTLETS = 6, 6


def write_cases(binary, folder, data):
    staged = folder.with_suffix(".part")
    shutil.rmtree(staged, ignore_errors=True)
    staged.mkdir(parents=True)
    subprocess.run([binary, "demo", staged / "demonstration", "--quiet"], check=True)
    shutil.copytree(program.ROOT / "fixtures/farm_valley", staged / "farm_valley")
    shutil.copyfile(data / "farm_valley/dtm_1m.tif", staged / "farm_valley/dtm_1m.tif")
    for name in ("gauged_creek", "delta"):
        shutil.copytree(data / name, staged / name)
    with rasterio.open(data / "gauged_creek/dem_10m.tif") as dem:
        covered = shapely.box(*dem.bounds)
    creek = staged / "gauged_creek"
    cases.write_square_parcels(creek / "parcels.gpkg", covered, test_gauged_creek.CRS, test_gauged_creek.PARCEL_SIDE_M)
    (creek / "case.toml").write_text(test_gauged_creek.CASE.format(data="."))
    with rasterio.open(data / "delta/dem_100m_feet.tif") as dem:
        covered = projection.transform(shapely.box(*dem.bounds), dem.crs.to_string(), test_delta.CRS)
    delta = staged / "delta"
    cases.write_square_parcels(
        delta / "parcels.gpkg", covered.buffer(-test_delta.RIM_M), test_delta.CRS, test_delta.PARCEL_SIDE_M
    )
    (delta / "case.toml").write_text(test_delta.CASE.format(data=".", terrain=test_delta.WARPED))
    staged.rename(folder)


def spread(values, most):
    """At most so many of some values, evenly from first to last."""
    values = sorted(values)
    step = max(1, len(values) // most)
    return values[::step][:most]


def digest(data):
    return hashlib.sha256(data).hexdigest()[:16]


class Run:
    """The commands on one case, run in an empty folder with a link to the case, so that no path depends on where it lies."""

    def __init__(self, binary, case, folder):
        self.binary, self.name, self.folder = binary, case.name, folder
        (folder / "case").symlink_to(case)

    def run(self, name, *arguments, out=True):
        command = [self.binary, *map(str, arguments), "--quiet", *(["--out", name] if out else [])]
        done = subprocess.run(command, cwd=self.folder, stdin=subprocess.DEVNULL, capture_output=True)
        print(f"{self.name} {name} exit {done.returncode} stdout {digest(done.stdout)} stderr {digest(done.stderr)}")
        for file in sorted((self.folder / name).rglob("*")) if out else ():
            if file.is_file():
                print(f"{self.name} {name} {file.relative_to(self.folder / name)} {digest(file.read_bytes())}")

    def properties(self, layer, key):
        features = json.loads((self.folder / "outlets" / f"{layer}.geojson").read_text())["features"]
        return {str(feature["properties"][key]): feature["properties"] for feature in features}

    def all(self):
        file = "case/case.toml"
        self.run("check", "check", file, out=False)
        self.run("check_json", "check", file, "--json", out=False)
        self.run("outlets", "outlets", file, "--gpkg", "--spread", "--threads", 1)
        self.run("outlets_json", "outlets", file, "--json")
        self.run("strict", "outlets", file, "--strict")
        parcels = spread(self.properties("parcels", "parcel_id"), MOST_PARCELS)
        for parcel in parcels:
            for way in ([], ["--upstream"]):
                for form in ([], ["--json"]):
                    name = "_".join(["trace", parcel, *way, *form])
                    self.run(name, "trace", file, "--parcel", parcel, *way, *form, out=False)
        self.run("trace_unknown", "trace", file, "--parcel", "no such parcel", out=False)
        waterways = {reach["waterway_id"] for reach in self.properties("reaches", "reach_id").values()}
        for outlet in spread(waterways | set(self.properties("links", "link_id")), MOST_OUTLETS):
            self.run(f"watershed_{outlet}", "watershed", file, "--outlet", outlet)
        self.run("watershed_unknown", "watershed", file, "--outlet", "no such outlet")
        points = {feature["properties"]["parcel_id"]: feature for feature in self.features("parcels")}
        for number, parcel in enumerate(parcels):
            lon, lat = shapely.geometry.shape(points[parcel]["geometry"]).representative_point().coords[0]
            place = ["--at", f"{lon:.6f},{lat:.6f}", "--lonlat"]
            self.run(f"watershed_at_{number}", "watershed", file, *place, "--snap", 50)
            for way in ([], ["--upstream"]):
                self.run("_".join([f"trace_at_{number}", *way]), "trace", file, *place, *way, out=False)
        self.run("capacity", "capacity", file)
        self.run("capacity_added", "capacity", file, *[part for p in parcels[:2] for part in ("--add", f"{p}=12mm/d")])
        every = ["--all-parcels"] if self.name == "demonstration" else [part for p in parcels for part in ("--parcel", p)]
        self.run("sheets", "sheets", file, "--no-pdf", *every)
        self.run("sheets_a4", "sheets", file, "--no-pdf", "--paper", "a4", "--parcel", parcels[0])

    def features(self, layer):
        return json.loads((self.folder / "outlets" / f"{layer}.geojson").read_text())["features"]

    def terrain(self, dem, *more):
        for name, options in {
            "terrain": ["--spread"],
            "terrain_filled": ["--longest-cut", 0],
            "terrain_on_file": ["--max-memory", "340MiB", "--threads", 2],
        }.items():
            self.run(name, "terrain", f"case/{dem}", *more, *options)


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("cases", type=Path)
    arguments.add_argument("binary", type=Path)
    arguments.add_argument("--only", help="the name of one case")
    given = arguments.parse_args()
    folder, binary = given.cases.absolute(), given.binary.absolute()
    if not folder.exists():
        write_cases(binary, folder, REAL_DATA)
    for case in sorted(path for path in folder.iterdir() if given.only in (None, path.name)):
        with tempfile.TemporaryDirectory() as scratch:
            run = Run(binary, case, Path(scratch))
            run.all()
            dems = {"farm_valley": "dtm_1m.tif", "gauged_creek": "dem_10m.tif"}
            if case.name in dems:
                run.terrain(dems[case.name], "--vertical-unit", "m")


if __name__ == "__main__":
    main()
