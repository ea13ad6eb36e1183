"""Random small cases of every shape, all commands run on each, and what must hold of any output: found by walking over what was
written. A case is a function of its seed. Where something does not hold, the case's folder is kept and named;
`FALLWRIGHT_RANDOM_SEED=17` runs that seed alone."""

import os
import shutil
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

import random_cases
from invariants import capacity, changes, files, network, parcels, paths, terrain, watersheds
from invariants.commands import DONE, REFUSED, UNDECIDED, Commands, pictures
from random_cases.faults import fault
from walked import Broken, Walked

pytestmark = pytest.mark.reference("numpy", "shapely", "rasterio", "jsonschema")

# `make torture` names twenty thousand cases for the second implementation: two thousand of these.
USUAL_CASES, PART = 60, 10
MOST_SHOWN = 25
# So that a case takes less than a second: most of that goes into starting the program.
MOST_OUTLETS, MOST_PARCELS = 2, 2
CAPACITY_EVERY, CHECK_EVERY, POINT_EVERY, TERRAIN_EVERY, SCHEMAS_EVERY, SHEETS_EVERY, FAULTS_EVERY = 2, 5, 4, 3, 4, 6, 6


def seeds():
    if only := os.environ.get("FALLWRIGHT_RANDOM_SEED"):
        return [int(only)]
    given = os.environ.get("FALLWRIGHT_RANDOM_CASES")
    return range(max(1, int(given) // PART) if given else USUAL_CASES)


SEEN = Counter()


@pytest.mark.parametrize("seed", seeds())
def test_what_holds_of_any_case(seed):
    check(seed, problems_of_case)


@pytest.mark.parametrize("seed", list(seeds())[::FAULTS_EVERY])
def test_a_faulty_case_is_refused_whole(seed):
    check(seed, problems_of_fault)


def test_the_cases_are_of_every_shape(measured):
    """The checks above prove nothing of what no case has."""
    measured(", ".join(f"{count} {name}" for name, count in sorted(SEEN.items())))
    if SEEN["cases"] >= USUAL_CASES:
        scarce = [name for name in EVERY_SHAPE if SEEN[name] == 0]
        assert not scarce, f"no {', no '.join(scarce)} in {SEEN['cases']} cases"


EVERY_SHAPE = (
    "paths to an outlet", "paths to no outlet", "crossings", "reaches", "structures", "channels shared", "kept depressions",
    "watersheds of an outlet", "watersheds of a point", "rights", "cases with holes", "cases in feet", "mosaics", "parcels with holes",
    "lakes and rivers as polygons", "paths to a lake or river as a polygon", "parcels of several parts", "parcels without a cell",
    "parcels beyond the elevation", "faults",
)  # fmt: skip


def check(seed, problems):
    folder = Path(tempfile.mkdtemp(prefix=f"fallwright-random-{seed}-"))
    found = problems(seed, folder)
    if found:
        shown = "\n".join(found[:MOST_SHOWN])
        pytest.fail(f"seed {seed}: {len(found)} problems; the case is kept in {folder}; FALLWRIGHT_RANDOM_SEED={seed} runs it alone\n{shown}", pytrace=False)
    shutil.rmtree(folder)


def problems_of_fault(seed, folder):
    case, spoil, named, what = fault(random_cases.random_case(seed))
    file = random_cases.write(case, folder / "case")
    file.write_text(spoil(file.read_text()))
    commands = Commands(folder, file)
    places = {"watershed": ("--outlet", "W0"), "trace": ("--parcel", "000")}
    for command in ("check", "outlets", ("watershed", "capacity", "trace", "sheets")[seed // FAULTS_EVERY % 4]):
        out = None if command in ("check", "trace") else command
        done = commands.run(command, *places.get(command, ()), out=out, codes=(REFUSED,))
        if named not in done.stderr:
            commands.problems.append(f"{command}: {what} is refused without naming {named}: {done.stderr[:300]}")
    SEEN["faults"] += 1
    return commands.problems


def problems_of_case(seed, folder):
    case = random_cases.random_case(seed)
    file = random_cases.write(case, folder / "case")
    commands = Commands(folder, file)
    if seed % CHECK_EVERY == 0:
        commands.run("check")
    more = ("--gpkg", "--spread") if seed % 4 == 1 else ()
    done = commands.run("outlets", "--strict", *more, out="outlets", threads=(1, 2), codes=(DONE, UNDECIDED))
    if done.returncode not in (DONE, UNDECIDED):
        return commands.problems
    out = commands.cwd(1) / "outlets"
    try:
        walked = Walked(case, out)
        found = [*files.problems(case, out), *files.inputs(file.parent, out), *files.counts(walked), *files.geopackage(walked)]
        for module in (terrain, network, watersheds, paths, parcels, changes):
            found += module.problems(walked)
        found += problems_of_commands(walked, commands)
    except Broken as fault:
        return [*commands.problems, str(fault)]
    count(walked)
    return commands.problems + found


def problems_of_commands(walked, commands):
    rng = np.random.default_rng([walked.case.seed, 5])
    found = [*problems_of_watersheds(walked, commands, rng), *problems_of_traces(walked, commands, rng)]
    seed = walked.case.seed
    if seed % CAPACITY_EVERY == 0 and commands.run("capacity", out="capacity", threads=both(walked, 2)).returncode == DONE:
        out = commands.cwd(1) / "capacity"
        found += [*capacity.problems(walked, out), *files.problems(walked.case, out), *files.inputs(commands.file.parent, out)]
    if seed % TERRAIN_EVERY == 0 and walked.case.storage["tiles"] == (1, 1):
        dem, unit = commands.file.parent / "dem.tif", walked.case.unit
        if commands.run("terrain", "--vertical-unit", unit, file=dem, out="terrain", threads=both(walked, 1)).returncode == DONE:
            out = commands.cwd(1) / "terrain"
            found += [*terrain.alone(walked.case, out), *files.problems(walked.case, out)]
    if seed % SHEETS_EVERY == 0:
        pdf = () if seed % (2 * SHEETS_EVERY) == 0 else ("--no-pdf",)
        if commands.run("sheets", "--parcel", next(iter(walked.parcels)), *pdf, out="sheets").returncode == DONE:
            found += [*pictures(commands.cwd(1) / "sheets"), *files.record(commands.cwd(1) / "sheets")]
    if seed % SCHEMAS_EVERY == 0:
        for out in commands.expected[1]:
            found += files.schemas(commands.cwd(1) / out)
    return found


def both(walked, number):
    """One of the commands is run with one thread and with two on each case; the main job always is."""
    return (1, 2) if walked.case.seed % 4 == number else (1,)


def some(rng, items, most):
    items = list(items)
    return [items[int(position)] for position in sorted(rng.permutation(len(items))[:most])]


def problems_of_watersheds(walked, commands, rng):
    found = []
    for id in some(rng, outlets(walked), MOST_OUTLETS):
        SEEN["watersheds of an outlet"] += 1
        out = f"watershed-{id}"
        if commands.run("watershed", "--outlet", id, out=out, threads=both(walked, 0)).returncode == DONE:
            out = commands.cwd(1) / out
            found += [f"watershed of {id}: {problem}" for problem in watersheds.of_outlet(walked, id, out)]
            found += [f"watershed of {id}: {problem}" for problem in files.problems(walked.case, out)]
    if walked.case.seed % POINT_EVERY:
        return found
    (cell,) = some(rng, walked.cells, 1)
    SEEN["watersheds of a point"] += 1
    point = ",".join(map(str, walked.centre(cell)))
    if commands.run("watershed", "--at", point, out="watershed-at").returncode == DONE:
        found += [f"watershed of {point}: {problem}" for problem in watersheds.of_point(walked, cell, commands.cwd(1) / "watershed-at")]
    return found


def problems_of_traces(walked, commands, rng):
    found, arriving = [], {}
    for number, id in enumerate(some(rng, walked.parcels, MOST_PARCELS)):
        SEEN["parcels traced"] += 1
        if number == 0:
            down = commands.run("trace", "--parcel", id, "--json", threads=both(walked, 3))
            found += [f"parcel {id}: {problem}" for problem in parcels.of_trace(walked, id, down.stdout)]
        up = commands.run("trace", "--parcel", id, "--upstream", "--json", threads=both(walked, 3))
        found += [f"parcel {id}: {problem}" for problem in parcels.of_trace_upstream(walked, walked.own.get(id, []), up.stdout)]
        arriving[id] = parcels.givers(up.stdout)
    found += parcels.converse(walked, paths.leaving_cells(walked), arriving)
    if walked.case.seed % POINT_EVERY:
        return found
    (cell,) = some(rng, walked.cells, 1)
    point = ",".join(map(str, walked.centre(cell)))
    down = commands.run("trace", "--at", point, "--json")
    up = commands.run("trace", "--at", point, "--upstream", "--json")
    found += [f"trace of {point}: {problem}" for problem in paths.of_point(walked, cell, down.stdout)]
    found += [f"trace of {point}: {problem}" for problem in parcels.of_trace_upstream(walked, [cell], up.stdout)]
    return found


def outlets(walked):
    """All that has a watershed by the layers: waterways with a reach or a watershed of their own, and structures."""
    with_reach = {way for reach in walked.properties("reaches") for way in (reach["waterway_id"], *(also["waterway_id"] for also in reach["also"]))}
    first = {watershed["outlet_id"] for watershed in walked.properties("watersheds")}
    return sorted(with_reach | first | walked.links.keys())


def count(walked):
    case, lots = walked.case, walked.case.parcels.values()
    parts = {id: getattr(lot, "geoms", [lot]) for id, lot in case.parcels.items()}
    SEEN.update(
        {
            "cases": 1,
            "parcels": len(lots),
            "paths to an outlet": sum(path["outlet_id"] is not None for path in walked.properties("paths")),
            "paths to no outlet": sum(path["outlet_id"] is None for path in walked.properties("paths")),
            "crossings": len(walked.layers["crossings"]),
            "reaches": len(walked.layers["reaches"]),
            "structures": len(walked.links),
            "channels shared": sum(bool(reach["also"]) for reach in walked.properties("reaches")),
            "kept depressions": sum(change["kind"] == "kept" for change in walked.properties("terrain_changes")),
            "rights": sum(parcel["standing"] == "right" for parcel in walked.parcels.values()),
            "cases with holes": int(np.isnan(case.ground).any()),
            "lakes and rivers as polygons": sum(bool(way.polygons) for way in case.waterways),
            "paths to a lake or river as a polygon": sum(path["outlet_id"] in walked.waters.of for path in walked.properties("paths")),
            "paths to a closed lake": sum(path["ends"] == "closed_lake" for path in walked.properties("paths")),
            "cases in feet": int(case.unit != "m"),
            "mosaics": int(case.storage["tiles"] != (1, 1)),
            "parcels with holes": sum(any(len(part.interiors) for part in some) for some in parts.values()),
            "parcels of several parts": sum(len(some) > 1 for some in parts.values()),
            "parcels without a cell": sum(id not in walked.own for id in case.parcels),
            "parcels beyond the elevation": sum(not case.grid.box.covers(lot) for lot in lots),
        }
    )
