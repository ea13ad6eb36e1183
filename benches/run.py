"""Measures everything in one go on the same rasters and writes benches/result.json.

    run.py BENCHES PROGRAM [--quick]

BENCHES and PROGRAM are the paths of `fallwright-benches` and `fallwright`. What is compared is measured in turn, round after round, each in a
process of its own. `--quick` measures the two small sizes only.
"""

import argparse
import json
import os
import pathlib
import platform
import re
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
FARM_VALLEY = HERE.parent.parent / "shared" / "data" / "farm_valley" / "dtm_1m.tif"
# Side in cells: rounds of the engine, of the textbook, of the Python baseline.
SIZES = {1000: (5, 5, 3), 3000: (3, 3, 3), 10_000: (3, 1, 1), 20_000: (1, 0, 0)}
QUICK = (1000, 3000)
FARM_VALLEY_SIDE = 6000
GIGACELL_SIDE = 31_623


def measured(command):
    with tempfile.NamedTemporaryFile(suffix=".json") as result:
        subprocess.run([*command, result.name], check=True)
        return json.load(open(result.name, encoding="utf-8"))


def rounds_on(benches, raster, rounds):
    """Every kind of measurement on one raster, in turn."""
    engine, textbook, python = rounds
    found = []
    for number in range(engine):
        one = {"copy": measured([benches, "copy", raster, "1"])}
        for threads in (1, 2):
            one[f"engine {threads}"] = measured([benches, "engine", raster, str(threads)])
            one[f"control {threads}"] = measured([benches, "control", raster, str(threads)])
        if number < textbook:
            one["textbook"] = measured([benches, "textbook", raster, "1"])
        if number < python:
            one["python"] = measured([sys.executable, str(HERE / "baseline.py"), raster])
        found.append(one)
    return found


def mirrored_farm_valley(path):
    """Real lidar ground, repeated by reflection so that it stays continuous."""
    import numpy as np
    import rasterio

    with rasterio.open(FARM_VALLEY) as source:
        ground = source.read(1, masked=True).astype("f4").filled(np.nan)
    for axis in (0, 1):
        while ground.shape[axis] < FARM_VALLEY_SIDE:
            ground = np.concatenate([ground, np.flip(ground, axis)], axis=axis)
    ground[:FARM_VALLEY_SIDE, :FARM_VALLEY_SIDE].astype("<f4").tofile(path)


def gigacell(benches, program, folder):
    """A raster larger than its memory cap, through the command, against the engine with everything in memory."""
    raw, dem = folder / "gigacell.f32", folder / "gigacell.tif"
    subprocess.run([benches, "terrain", str(GIGACELL_SIDE), raw], check=True)
    as_geotiff(raw, dem, GIGACELL_SIDE)
    in_memory = measured([benches, "engine", str(raw), "2"])
    raw.unlink()
    runs = {}
    for cap in ("2GiB",):
        out = folder / "out"
        command = ["/usr/bin/time", "-f", "%M %e %U %S", program, "terrain", dem, "--out", out, "--vertical-unit", "m", "--longest-cut", "0"]
        command += ["--max-memory", cap, "--threads", "2", "-v"]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        runs[cap] = {"log": steps(done.stderr), "time": done.stderr.strip().splitlines()[-1].split()}
    return {"side": GIGACELL_SIDE, "in_memory": in_memory, "capped": runs}


def as_geotiff(raw, dem, side):
    import numpy as np
    import rasterio
    from rasterio.transform import from_origin

    cells = np.memmap(raw, dtype="<f4", mode="r", shape=(side, side))
    profile = dict(driver="GTiff", width=side, height=side, count=1, dtype="float32", nodata=float("nan"))
    profile |= dict(crs="EPSG:26917", transform=from_origin(4e5, 4.9e6, 0.5, 0.5), tiled=True, bigtiff="IF_SAFER")
    profile |= dict(blockxsize=256, blockysize=256, compress="deflate", predictor=3, zlevel=1)
    with rasterio.open(dem, "w", **profile) as target:
        for row in range(0, side, 256):
            rows = min(256, side - row)
            target.write(cells[row : row + rows], 1, window=((row, row + rows), (0, side)))


def steps(log):
    """Seconds since the start at which each step of the command began."""
    found = re.findall(r"^\s*([\d.]+)s\s+INFO (.*)$", log, flags=re.MULTILINE)
    return [[float(seconds), words] for seconds, words in found]


def machine():
    cpu = re.search(r"model name\s*: (.*)", pathlib.Path("/proc/cpuinfo").read_text())
    memory = int(re.search(r"MemTotal:\s*(\d+)", pathlib.Path("/proc/meminfo").read_text()).group(1)) * 1024
    return {
        "processor": cpu.group(1) if cpu else platform.processor(),
        "cores": os.cpu_count(),
        "memory_bytes": memory,
        "load_before": os.getloadavg()[0],
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
    }


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("benches")
    parser.add_argument("program")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--only-gigacell", action="store_true")
    parser.add_argument("--without-gigacell", action="store_true")
    chosen = parser.parse_args()
    result_file = HERE / "result.json"
    result = json.loads(result_file.read_text()) if chosen.only_gigacell else {"machine": machine(), "sizes": {}}
    # The longest first: a machine that was busy a moment ago is quiet by the time of the short ones.
    order = () if chosen.only_gigacell else sorted(QUICK if chosen.quick else SIZES, reverse=True)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        for side in order:
            print(f"{side} x {side} cells", flush=True)
            raster = folder / f"{side}.f32"
            subprocess.run([chosen.benches, "terrain", str(side), raster], check=True)
            result["sizes"][str(side)] = rounds_on(chosen.benches, str(raster), SIZES[side])
            raster.unlink()
        if not chosen.only_gigacell:
            result["farm_valley"] = farm_valley(chosen.benches, folder)
        if not (chosen.quick or chosen.without_gigacell):
            print("one gigacell under a memory cap", flush=True)
            result["gigacell"] = gigacell(chosen.benches, chosen.program, folder)
    result["sizes"] = dict(sorted(result["sizes"].items(), key=lambda item: int(item[0])))
    result_file.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


def farm_valley(benches, folder):
    if not FARM_VALLEY.exists():
        print(f"skipped: no real lidar ground at {FARM_VALLEY.relative_to(HERE.parent.parent)} beside the checkout")
        return None
    print("farm valley, mirrored", flush=True)
    raster = folder / "farm_valley.f32"
    mirrored_farm_valley(raster)
    found = rounds_on(benches, str(raster), (3, 1, 0))
    raster.unlink()
    return {"side": FARM_VALLEY_SIDE, "rounds": found}


if __name__ == "__main__":
    main()
