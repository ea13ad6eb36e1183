"""Measures on the same rasters and writes benches/result.json.

    run.py BENCHES PROGRAM [SECTION ...]

BENCHES and PROGRAM are the paths of `fallwright-benches` and `fallwright`. Sections are the sides of the generated rasters in cells
(1000, 3000, 10000, 20000), `farm_valley`, and `capped_` with a side: the command under a memory cap. Without any named, all are
measured. Each section has the date and the load of its own run; those not measured keep what was found before. What is compared is
measured in turn, round after round, each in a process of its own.
"""

import argparse
import json
import os
import pathlib
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time

import cells

HERE = pathlib.Path(__file__).resolve().parent
RESULT = HERE / "result.json"
FARM_VALLEY = HERE.parent.parent / "shared" / "data" / "farm_valley" / "dtm_1m.tif"
FARM_VALLEY_SIDE = 6000
# Side in cells: rounds of the engine, of the textbook, of the Python baseline.
SIZES = {1000: (5, 5, 3), 3000: (3, 3, 3), 10_000: (3, 3, 3), 20_000: (3, 0, 0)}
# Side in cells: the memory allowed. The last is one gigacell.
CAPS = {3000: "160MiB", 10_000: "180MiB", 31_623: "2GiB"}
# Searches for cuts take some memory of their own.
CUT_CAPS = {3000: "360MiB", 10_000: "400MiB", 31_623: "2GiB"}
# Largest side that the command takes with everything in memory.
IN_MEMORY_SIDE = 10_000


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
    answers = [one[name]["digests"] for one in found for name in ("engine 1", "engine 2")]
    if any(answer != answers[0] for answer in answers):
        sys.exit(f"FAILED: the engine's results on {raster} differ between runs: {answers}")
    return found


def generated(benches, _, folder, side):
    raster = folder / f"{side}.f32"
    subprocess.run([benches, "terrain", str(side), raster], check=True)
    rounds = rounds_on(benches, str(raster), SIZES[side])
    return {"rounds": rounds, "border": measured([benches, "border", str(raster), "2"])}


def farm_valley(benches, _, folder):
    raster = folder / "farm_valley.f32"
    mirrored_farm_valley(raster)
    return {"side": FARM_VALLEY_SIDE, "rounds": rounds_on(benches, str(raster), (3, 3, 0))}


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


def capped(benches, program, folder, side):
    """The command under a memory cap, and with plenty where that is possible, against the engine with everything in memory."""
    raw, dem = folder / "ground.f32", folder / "ground.tif"
    subprocess.run([benches, "terrain", str(side), raw], check=True)
    as_geotiff(raw, dem, side)
    in_memory = measured([benches, "engine", str(raw), "2"])
    raw.unlink()
    found = {"side": side, "cap": CAPS[side], "cut_cap": CUT_CAPS[side], "in_memory": in_memory}
    found |= {f"control {threads}": measured([benches, "control", str(dem), str(threads)]) for threads in (1, 2)}
    memories = {"capped": CAPS[side]} | ({"plenty": "20GiB"} if side <= IN_MEMORY_SIDE else {})
    for name, memory in memories.items():
        out = folder / name
        found[name] = command(program, dem, out, memory, NO_CUTS)
        answer = cells.digests(out)
        shutil.rmtree(out)
        expected = {raster: in_memory["digests"][raster] for raster in answer}
        if answer != expected:
            sys.exit(f"FAILED: {side} x {side} cells with {memory}: the command's rasters are not the engine's: {answer}, {expected}")
    answers = {}
    for name, memory in (memories | {"capped": CUT_CAPS[side]}).items():
        out = folder / name
        found[f"{name}, cut"] = command(program, dem, out, memory, CUTS)
        answers[name] = cells.digests(out)
        shutil.rmtree(out)
    if len({json.dumps(answer, sort_keys=True) for answer in answers.values()}) != 1:
        sys.exit(f"FAILED: {side} x {side} cells with cuts: the rasters depend on the memory allowed: {answers}")
    # Nothing that differs comes so far.
    found["same"] = True
    return found


NO_CUTS = ["--longest-cut", "0"]
CUTS = []


def command(program, dem, out, memory, cuts):
    """Seconds at which each step began, kilobytes at most, and seconds by the clock and of the processor."""
    words = ["terrain", dem, "--out", out, "--vertical-unit", "m", *cuts, "--max-memory", memory, "--threads", "2", "-v"]
    done = subprocess.run(["/usr/bin/time", "-f", "%M %e %U %S", program, *words], capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"FAILED: {' '.join(map(str, words))}\n{done.stderr}")
    most, wall, user, system = map(float, done.stderr.strip().splitlines()[-1].split())
    return {"log": steps(done.stderr), "peak_bytes": int(most) * 1024, "wall_s": wall, "cpu_s": user + system}


def as_geotiff(raw, dem, side):
    import numpy as np
    import rasterio
    from rasterio.transform import from_origin

    ground = np.memmap(raw, dtype="<f4", mode="r", shape=(side, side))
    profile = dict(driver="GTiff", width=side, height=side, count=1, dtype="float32", nodata=float("nan"))
    profile |= dict(crs="EPSG:26917", transform=from_origin(4e5, 4.9e6, 0.5, 0.5), tiled=True, bigtiff="IF_SAFER")
    profile |= dict(blockxsize=256, blockysize=256, compress="deflate", predictor=3, zlevel=1, num_threads="all_cpus")
    with rasterio.open(dem, "w", **profile) as target:
        for row in range(0, side, 256):
            rows = min(256, side - row)
            target.write(ground[row : row + rows], 1, window=((row, row + rows), (0, side)))


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


def sections():
    """Every section by its name, the longest first: a machine that was busy a moment ago is quiet by the time of the short ones."""
    found = {f"capped_{side}": lambda *on, side=side: capped(*on, side) for side in sorted(CAPS, reverse=True)}
    found |= {str(side): lambda *on, side=side: generated(*on, side) for side in sorted(SIZES, reverse=True)}
    return found | {"farm_valley": farm_valley}


def main():
    every = sections()
    parser = argparse.ArgumentParser(description="Measures on the same rasters and writes benches/result.json.")
    parser.add_argument("benches")
    parser.add_argument("program")
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=f"one of {', '.join(every)}; all where none is named")
    chosen = parser.parse_args()
    unknown = set(chosen.sections) - set(every)
    if unknown:
        parser.error(f"no section is called {', '.join(sorted(unknown))}: choose from {', '.join(every)}")
    result = json.loads(RESULT.read_text(encoding="utf-8"))
    for name, measure in every.items():
        if name not in (chosen.sections or every):
            continue
        if name == "farm_valley" and not FARM_VALLEY.exists():
            print(f"skipped: no real lidar ground at {FARM_VALLEY.relative_to(HERE.parent.parent)} beside the checkout")
            continue
        print(name, flush=True)
        with tempfile.TemporaryDirectory() as folder:
            on = machine()
            result[name] = {"machine": on} | measure(chosen.benches, chosen.program, pathlib.Path(folder))
        # At once: what comes after may fail.
        RESULT.write_text(json.dumps(result, indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
