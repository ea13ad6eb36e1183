"""Random small cases against a second, brute-force implementation: every parcel's hectares, shares, paths, standing and ways."""

import concurrent.futures
import json
import os
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely

import program
import rasters
import second_implementation
import second_law
import second_piped
import second_waters
import small_cases
from road_lands import is_parcel, party

pytestmark = pytest.mark.reference("numpy", "scipy", "shapely")

CASES = int(os.environ.get("FALLWRIGHT_RANDOM_CASES", 600))
PER_CHECK = 100
MOST_SHOWN = 500
PLACES_HA = 2e-6
PLACES_M = 2e-3


def run(seed, folder, classes):
    case = small_cases.small_case(seed, classes)
    file = small_cases.write(case, folder / str(seed))
    out = file.parent / "out"
    program.run("outlets", file, "--out", out, "--threads", "1", "--quiet")
    return case, out


def features(out, name):
    return [feature["properties"] for feature in json.loads((out / f"{name}.geojson").read_text())["features"]]


def of_surface(items):
    return [item for item in items if item["water"] == "surface"]


def compare(case, out, profiles, seen):
    """What differs, as text."""
    links = json.loads((out / "links.geojson").read_text())["features"]
    direction = rasters.read_band(out / "direction.tif")
    worked = second_implementation.Worked(case, direction, links, profiles[case.profile])
    ways = {(path["parcel_id"], path["share"]): path for path in of_surface(features(out, "paths"))}
    crossings = {}
    for crossing in of_surface(features(out, "crossings")):
        crossings.setdefault((crossing["parcel_id"], crossing["share"]), []).append(crossing)
    differing = []

    def check(parcel, what, found, expected):
        same = np.allclose(found, expected, rtol=0.0, atol=PLACES_HA) if isinstance(expected, float) else found == expected
        if not same:
            differing.append(f"{case.terrain.name}, parcel {parcel}, {what}: {found}, expected {expected}")

    for found in features(out, "parcels"):
        parcel = found["parcel_id"]
        seen["parcels"] += 1
        own, received = worked.contributions(parcel)
        ha = second_implementation.HECTARES_PER_CELL
        check(parcel, "own_ha", found["own_ha"], own * ha)
        check(parcel, "run_on_ha", found["run_on_ha"], received.total() * ha)
        check(parcel, "contributing_ha", found["contributing_ha"], (own + received.total()) * ha)
        givers = {party(giver): round(giver["hectares"] / ha) for giver in found["receives_from"]}
        check(parcel, "receives_from", givers, dict(received))
        for giver in found["receives_from"]:
            road = worked.roads.get(party(giver))
            names = (road.name, road.authority) if road else (None, None)
            check(parcel, "a road's name and authority", (giver.get("name"), giver.get("authority")), names)
            seen["givers that are roads"] += road is not None
        check(parcel, "piped_ha", found["piped_ha"], tiled_cells(worked, case, parcel, links) * ha)
        shares = worked.shares(parcel)
        check(parcel, "outlet_id", found["outlet_id"], shares[0].outlet if shares else None)
        for number, share in enumerate(shares, 1):
            seen["shares"] += 1
            if not share.is_remainder:
                check_way(worked, check, (parcel, number), share, ways.pop((parcel, number), None), crossings, seen)
        if found["parcels_crossed"] or shares:
            check(parcel, "parcels_crossed", found["parcels_crossed"], crossed(worked, shares[0], parcel))
        check_standing(worked, check, parcel, found, shares, seen)
    differing += second_piped.differences(worked, out, seen)
    differing += [f"{case.terrain.name}: {problem}" for problem in second_waters.differing_levels(worked.waters, out, seen)]
    differing += [f"{case.terrain.name}: a path of share {share}, which is none" for share in ways]
    return differing


def tiled_cells(worked, case, parcel, links):
    known = {link["properties"]["link_id"] for link in links}
    count = 0
    for cell in worked.cells:
        point = shapely.Point(worked.centre(cell))
        main = next((pipe for pipe, polygon in case.tiled if polygon.contains(point)), None)
        count += main in known and worked.party[cell] == parcel
    return count


def crossed(worked, share, parcel):
    _, lands = worked.way(share.leaving)
    others = dict.fromkeys(land for land, *_ in lands[1:])
    return [land for land in others if is_parcel(land) and land != parcel]


def check_way(worked, check, name, share, path, crossings, seen):
    if path is None:
        return check(name, "its path", None, share)
    metres, lands = worked.way(share.leaving)
    check(name, "outlet_id of the path", path["outlet_id"], share.outlet)
    check(name, "hectares of the path", path["hectares"], share.cells * second_implementation.HECTARES_PER_CELL)
    check(name, "where it ends", path["ends"], worked.ends[worked.paths[share.leaving][-1]])
    seen[f"paths that end at {path['ends']}"] += 1
    seen["paths to a lake or river mapped as a polygon"] += share.outlet in worked.waters.of
    check(name, "path_m", bool(abs(path["path_m"] - metres) < PLACES_M), True)
    reported = [(party(crossing, "to_"), crossing["metres_on_land"]) for crossing in crossings.get(name, [])]
    check(name, "lands crossed", [to for to, _ in reported], [land for land, *_ in lands[1:]])
    for (_, found), (_, expected, _) in zip(reported, lands[1:]):
        check(name, "metres on a land", bool(abs(found - expected) < PLACES_M), True)


def check_standing(worked, check, parcel, found, shares, seen):
    lawful = {feature for share in shares for feature in worked.outlets(share.leaving)}
    if any(worked.touches(parcel, feature) is None for feature in lawful):
        seen["parcels that a waterway or pipe touches at a point or by less than its tolerance, standing not compared"] += 1
        return
    ha = second_implementation.HECTARES_PER_CELL
    if worked.undecided_as_a_whole(parcel, shares) is not None:
        pieces = [second_law.Piece(n, share.cells * ha, "undecided", None) for n, share in enumerate(shares, 1)]
        standing, ways, in_doubt = "undecided", {}, set()
    else:
        law = second_law.Law(worked, parcel, shares, ha)
        standing, pieces, ways, in_doubt = law.standing(), law.pieces, law.ways(), law.in_doubt
        check_schedules(law, check, found, seen)
    seen[standing] += 1
    check(parcel, "standing", found["standing"], standing)
    reported = [(share["share"], share["standing"], share["basis"]) for share in found["shares"]]
    check(parcel, "shares", reported, [(piece.share, piece.standing, worked.kind.get(piece.basis)) for piece in pieces])
    for share, piece in zip(found["shares"], pieces):
        check(parcel, f"hectares of share {piece.share}", share["hectares"], piece.hectares)
    for word in ("right", "acquire", "undecided"):
        check(parcel, f"{word}_ha", found[f"{word}_ha"], float(sum(piece.hectares for piece in pieces if piece.standing == word)))
    check_ways(check, parcel, found, (ways, in_doubt), seen)


def check_schedules(law, check, found, seen):
    """The drains that assess the parcel for benefit alone, and the shares that await what the municipality answers."""
    benefit = second_law.BENEFIT_ONLY
    listed = sorted(drain for drain in law.case.schedules if law.assessed_in(drain) == benefit)
    reported = sorted(item["drain_id"] for item in found["schedule"] if item["case"] == benefit)
    check(law.parcel, "drains that assess it for benefit alone", reported, listed)
    seen["drains that assess a parcel for benefit alone"] += len(listed)
    for share, piece in zip(found["shares"], law.pieces):
        if piece.standing != "undecided":
            continue
        awaited = [reason for reason in second_law.OPEN if reason in share["reasons"] and reason != piece.awaits]
        lacking = piece.awaits is not None and piece.awaits not in share["reasons"]
        check(law.parcel, f"what share {piece.share} awaits", (awaited, lacking), ([], False))
        seen[f"shares that are undecided: {piece.awaits or 'no outlet'}"] += 1


def check_ways(check, parcel, found, ways, seen):
    """The ways of the surface water; one that serves piped water too may need more consents."""
    expected, in_doubt = ways
    expected = {name: way for name, way in expected.items() if name not in in_doubt}
    seen["ways"] += len(expected)
    listed = found["ways_to_acquire"]
    by_kind = {(way["way"], way["outlet_id"]): way for way in listed}
    check(parcel, "each way once", len(by_kind), len(listed))
    by_kind = {name: way for name, way in by_kind.items() if "surface" in way["serves"] and name not in in_doubt}
    check(parcel, "kinds of ways and their outlets", set(by_kind), set(expected))
    for name in set(by_kind) & set(expected):
        consents = {(consent["kind"], consent["id"]) for consent in by_kind[name]["consents"]}
        if "piped" in by_kind[name]["serves"]:
            consents &= expected[name].consents
        check(parcel, f"who must consent to {name}", consents, expected[name].consents)
        check(parcel, f"shares of {name}", set(by_kind[name]["shares"]), expected[name].shares)
        check(parcel, f"hectares that {name} cures", by_kind[name]["cures_ha"], float(expected[name].cures))


@pytest.mark.parametrize("first", range(0, CASES, PER_CHECK))
def test_every_parcel_of_random_cases(first, measured):
    profiles = {name: second_law.Profile(name) for name in small_cases.PROFILES}
    classes = list(profiles["ontario"].classes)
    seen, differing = Counter(), []
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor(2) as pool:
        runs = [pool.submit(run, seed, Path(folder), classes) for seed in range(first, first + PER_CHECK)]
        for done in concurrent.futures.as_completed(runs):
            if (fault := done.exception()) is not None:
                differing.append(f"a case on which the program does not end well: {fault}"[:MOST_SHOWN])
                continue
            differing += compare(*done.result(), profiles, seen)
    assert not differing, f"{len(differing)} differences\n" + "\n".join(differing[:20])
    measured(f"{PER_CHECK} cases, 0 differences; " + ", ".join(f"{count} {word}" for word, count in sorted(seen.items())))
