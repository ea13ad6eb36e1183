"""Damaged input files: refused with exit code 3, quickly, in little memory, with nothing written and no panic.

Every file of a small sound case is cut short, replaced by noise, spoilt at its head, and changed in single bits. The first
three leave nothing that a reader could take for a sound file, so only a refusal will do; a changed bit may fall where it
does no harm.
"""

import os
import random
import shutil
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pyogrio
import pytest
import rasterio
import shapely

import program
import rasters

pytestmark = pytest.mark.reference("pyogrio", "rasterio")

LONGEST_S, MOST_MIB = 5.0, 512.0
# For a header that claims far more than its file can hold.
CLAIM_LONGEST_S, CLAIM_MOST_MIB = 1.0, 100.0
CLAIMED_CELLS = 400_000
# Of a case, whatever memory there is.
MOST_CELLS = 2**32 - 1
PARTS, NOISES, FLIPS = 16, 5, 6
CELLS, CELL_M = 60, 10.0
CASE = """
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
[parcels]
source = "parcels.PARCELS"
id = "roll"
[[waterways]]
source = "drain.WATERWAY"
id = "id"
class = "municipal_drain"
[[schedules]]
source = "schedule.csv"
drain = "D"
parcel = "roll"
hectares = "ha"
"""
# Each damaged file with the formats of the parcels and of the waterway in its case.
FILES = {
    "dem.tif": ("gpkg", "gpkg"),
    "parcels.gpkg": ("gpkg", "gpkg"),
    "parcels.geojson": ("geojson", "gpkg"),
    "parcels.fgb": ("fgb", "gpkg"),
    "parcels.shp": ("shp", "gpkg"),
    "parcels.shx": ("shp", "gpkg"),
    "parcels.dbf": ("shp", "gpkg"),
    "parcels.prj": ("shp", "gpkg"),
    "drain.gpkg": ("gpkg", "gpkg"),
    "drain.geojson": ("gpkg", "geojson"),
}


def write_layer(path, geometries, name, values, crs=rasters.CRS):
    field = [np.array(values, dtype=object)]
    kind = geometries[0].geom_type
    pyogrio.raw.write(path, shapely.to_wkb(geometries), field, [name], geometry_type=kind, crs=crs)


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """The folder of a valley with two parcels on a drain, in every format."""
    folder = tmp_path_factory.mktemp("sound")
    row, col = np.indices((CELLS, CELLS))
    heights = 100.0 + 0.02 * (CELLS - row) + 0.05 * np.abs(col - CELLS / 2)
    transform = rasterio.transform.from_origin(rasters.WEST, rasters.NORTH, CELL_M, CELL_M)
    profile = dict(driver="GTiff", width=CELLS, height=CELLS, count=1, dtype="float32", crs=rasters.CRS, transform=transform)
    with rasterio.open(folder / "dem.tif", "w", compress="deflate", **profile) as dataset:
        dataset.write(heights.astype("float32"), 1)
    side = CELLS * CELL_M
    lots = [shapely.box(10, 10, side / 2, side - 10), shapely.box(side / 2, 10, side - 10, side - 10)]
    line = shapely.LineString([(side / 2 + 5, side - 5), (side / 2 + 5, 5)])
    lots, line = (shapely.transform(shape, lambda at: at + [rasters.WEST, rasters.NORTH - side]) for shape in (lots, line))
    for ending in ("gpkg", "geojson", "fgb", "shp"):
        write_layer(folder / f"parcels.{ending}", lots, "roll", ["001", "002"])
        write_layer(folder / f"drain.{ending}", [line], "id", ["D"])
    (folder / "schedule.csv").write_text("roll,ha\n001,6.5\n002,3\n")
    return folder


def run_with(sound, folder, name, content):
    """Run the main job on a copy of the sound case with one file replaced; returns how it ended."""
    shutil.copytree(sound, folder)
    parcels, waterway = FILES.get(name, ("gpkg", "gpkg"))
    (folder / "case.toml").write_text(CASE.replace("PARCELS", parcels).replace("WATERWAY", waterway))
    if content is not None:
        (folder / name).write_bytes(content)
    code, message, took, mebibytes = program.run_measured("outlets", folder / "case.toml", "--out", folder / "out")
    written = (folder / "out").exists()
    shutil.rmtree(folder)
    return code, message, written, took, mebibytes


def spoilt(content):
    """Contents that no reader can take for the sound file."""
    chance = random.Random(len(content))
    for part in range(PARTS):
        yield content[: len(content) * part // PARTS]
    for length in (1, 7, 100, 1_000, 10_000)[:NOISES]:
        yield chance.randbytes(length)
    yield b"\xff" * 16 + content[16:]
    yield content[::-1]


def flipped(content):
    """Contents with 1, 4 or 32 changed bits."""
    chance = random.Random(len(content))
    for number in range(FLIPS):
        changed = bytearray(content)
        for _ in range((1, 4, 32)[number % 3]):
            changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
        yield bytes(changed)


def test_the_case_to_damage_is_sound(sound, tmp_path):
    for parcels in ("gpkg", "geojson", "fgb", "shp"):
        code, message, written, *_ = run_with(sound, tmp_path / "case", f"parcels.{parcels}", None)
        assert (code, written) == (0, True), f"{parcels}: {message}"


def test_damaged_files_are_refused(sound, tmp_path, measured):
    damaged = [(name, content, {3}) for name in FILES for content in spoilt((sound / name).read_bytes())]
    damaged += [("case.toml", content, {3}) for content in (b"", b"\x00" * 99, b"\xff\xfe[terrain]", b"[terrain", b"a = " * 9)]
    damaged += [(name, content, {0, 3}) for name in FILES for content in flipped((sound / name).read_bytes())]

    def outcome(numbered):
        number, (name, content, _) = numbered
        return run_with(sound, tmp_path / str(number), name, content)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        outcomes = list(pool.map(outcome, enumerate(damaged)))
    for number, ((name, content, expected), (code, message, written, seconds, mebibytes)) in enumerate(
        zip(damaged, outcomes, strict=True)
    ):
        what = f"damaged file {number}, {name}, {len(content)} bytes: exit code {code}\n{message}"
        assert code in expected and "panicked" not in message, what
        assert written == (code == 0), f"something was written: {what}"
        assert seconds <= LONGEST_S and mebibytes <= MOST_MIB, f"{seconds:.1f} s, {mebibytes:.0f} MiB: {what}"
    refusals = sum(expected == {3} for *_, expected in damaged)
    slowest, largest = max(o[3] for o in outcomes), max(o[4] for o in outcomes)
    measured(
        f"{refusals} unreadable files refused, {len(damaged) - refusals} with changed bits refused or read, 0 panics; "
        f"at most {slowest:.1f} s and {largest:.0f} MiB"
    )


def test_a_header_that_claims_too_much_is_refused_at_once(sound, tmp_path, measured):
    """A file of half a megabyte that says it holds 640 GB of heights."""
    dem, out = tmp_path / "dem.tif", tmp_path / "out"
    profile = dict(driver="GTiff", width=CLAIMED_CELLS, height=CLAIMED_CELLS, count=1, dtype="float32", crs=rasters.CRS)
    profile |= dict(transform=rasterio.transform.from_origin(rasters.WEST, rasters.NORTH, 1.0, 1.0))
    with rasterio.open(dem, "w", SPARSE_OK=True, tiled=True, blockxsize=2048, blockysize=2048, BIGTIFF="YES", **profile):
        pass
    case = tmp_path / "case"
    shutil.copytree(sound, case)
    shutil.copy(dem, case / "dem.tif")
    (case / "case.toml").write_text(CASE.replace("PARCELS", "gpkg").replace("WATERWAY", "gpkg"))
    in_memory, on_file = ["--vertical-unit", "m"], ["--vertical-unit", "m", "--longest-cut", "0", "--max-memory", "300MiB"]
    of_case, to = [case / "case.toml", "--max-memory", "9999GiB"], ["--out", out]
    commands = [["terrain", dem, *in_memory, *to], ["terrain", dem, *on_file, *to], ["check", *of_case], ["outlets", *of_case, *to]]
    most = [0.0, 0.0]
    for command in commands:
        code, message, seconds, mebibytes = program.run_measured(*command)
        what = f"{command[0]}, {seconds:.2f} s, {mebibytes:.0f} MiB: exit code {code}\n{message}"
        assert code == 3 and f"{CLAIMED_CELLS} x {CLAIMED_CELLS} cells" in message and "panicked" not in message, what
        assert command[0] == "terrain" or f"at most {MOST_CELLS} cells" in message, what
        assert not out.exists(), f"something was written: {what}"
        assert seconds < CLAIM_LONGEST_S and mebibytes < CLAIM_MOST_MIB, what
        most = [max(most[0], seconds), max(most[1], mebibytes)]
    measured(f"{dem.stat().st_size} bytes that claim 640 GB: refused in at most {most[0]:.2f} s and {most[1]:.0f} MiB")


@pytest.mark.reference("rasterio")
def test_a_file_that_stores_few_of_its_blocks_is_worked_on(tmp_path, measured):
    """Blocks without data need not be stored. One block of heights among 208 is worked on in memory and in working files alike."""
    dem = tmp_path / "dem.tif"
    profile = dict(driver="GTiff", width=4_000, height=3_200, count=1, dtype="float32", crs=rasters.CRS, nodata=rasters.NODATA)
    profile |= dict(transform=rasterio.transform.from_origin(rasters.WEST, rasters.NORTH, 1.0, 1.0), compress="deflate")
    row, col = np.indices((256, 256))
    heights = (100.0 + row // 8 + col // 16).astype("float32")
    with rasterio.open(dem, "w", SPARSE_OK=True, tiled=True, blockxsize=256, blockysize=256, **profile) as dataset:
        dataset.write(heights, 1, window=rasterio.windows.Window(1_024, 1_024, 256, 256))
    assert dem.stat().st_size * 500 < 4_000 * 3_200, "the file is small against its cells"
    command = ["terrain", dem, "--vertical-unit", "m", "--longest-cut", "0"]
    program.run(*command, "--out", tmp_path / "memory")
    program.run(*command, "--out", tmp_path / "file", "--threads", 2, "--max-memory", "300MiB")
    for file in (tmp_path / "memory").iterdir():
        assert file.read_bytes() == (tmp_path / "file" / file.name).read_bytes(), f"{file.name} differs in working files"
    with rasterio.open(tmp_path / "file" / "ground.tif") as dataset:
        ground = dataset.read(1)
    assert np.isfinite(ground).sum() == heights.size
    measured(f"{dem.stat().st_size} bytes with {heights.size} of {ground.size} cells: read alike")
