"""Distance to the bank and length of frontage, worked out anew with shapely."""

import numpy as np
import pyogrio
import pytest
import shapely

import cases
import projection
import random_cases

pytestmark = pytest.mark.reference("shapely", "pyproj")

# Half a millimetre for rounding; lengths are sampled, here every half metre, in the program every metre.
ROUNDING_M = 0.0006
SAMPLED_M = 3.0
# A shore has more corners than a line: each straight piece of it is sampled for itself.
SAMPLED_PART = 0.02
# One stretch near the limit below which it is a touch at a point, and left out, in tolerances: its places on the parcel lie within two,
# and it may come from and go as far away.
NEAR_A_POINT = 4.0
SHORE_SEEDS = 160


def waterways(case):
    """Lines and widths from bank to bank by id."""
    found = {}
    for table in case.settings["waterways"]:
        width = table.get("width_m")
        columns = [table.get("id", "id"), *([width] if width else [])]
        source = case.file.parent / table["source"]
        meta, _, geometry, values = pyogrio.raw.read(source, layer=table.get("layer"), columns=columns)
        order = list(meta["fields"])
        lines = projection.transform(shapely.from_wkb(geometry), meta["crs"], case.settings["crs"])
        for position, line in enumerate(lines):
            of = {name: values[order.index(name)][position] for name in columns}
            half = float(of[width] or 0.0) / 2.0 if width else 0.0
            found[str(of[columns[0]])] = (line, half)
    return found


def open_length(line, half, own, others, tolerance):
    """Metres of a waterway near a parcel with nothing of others' between; touches at a point left out."""
    length = 0.0
    for part in shapely.get_parts(line):
        pieces = max(1, int(np.ceil(part.length / 0.5)))
        along = (np.arange(pieces) + 0.5) * part.length / pieces
        water = shapely.line_interpolate_point(part, along)
        ways = shapely.shortest_line(np.full(pieces, own), water)
        near = shapely.length(ways) <= tolerance + half
        run = []
        for way, is_near in zip([*ways, None], [*near, False]):
            if is_near and not separated(way, others):
                run.append(shapely.get_point(way, 0))
                continue
            shore = shapely.total_bounds(np.array(run)) if run else np.zeros(4)
            if np.hypot(shore[2] - shore[0], shore[3] - shore[1]) > 2.0 * tolerance:
                length += len(run) * part.length / pieces
            run = []
    return length


def separated(way, others):
    """Whether land of others lies between the two ends and does not go on beyond the far one for half as far."""
    if way.length == 0.0:
        return False
    start, end = np.array(way.coords[0]), np.array(way.coords[-1])
    for land in others:
        width = way.intersection(land).length
        beyond = end + (end - start) / way.length * width / 2.0
        if width > 0.01 and not land.contains(shapely.Point(beyond)):
            return True
    return False


def others_near(parcels, owners, roads, id, around):
    """Land of others and roads that meet a polygon."""
    own = owners[id]
    lands = [land for other, land in parcels.items() if other != id and not (own and owners[other] == own)]
    return [land for land in [*lands, *roads] if land.intersects(around)]


def shore_length(water, own, others, tolerance):
    """Metres of a shore near a parcel, and the outline of the parts of the parcel that lie wholly in the water."""
    inside = [part for part in shapely.get_parts(own) if water.contains(part)]
    if inside:
        return sum(part.exterior.length for part in inside)
    around = own.buffer(tolerance + 1.0)
    return open_length(shapely.line_merge(water.boundary.intersection(around)), 0.0, own, others, tolerance)


def differences_along_shores(case, folder):
    """(parcel, water, distance off, length off, length allowed to be off) of the lakes, islands and rivers of a random case."""
    waters = {way.id: way.shape for way in case.waterways if way.polygons}
    made = cases.outlets(random_cases.write(case, folder / "case"), folder / "out")
    roads = [road.polygon for road in case.roads]
    for feature in made.features("parcels"):
        id = feature["properties"]["parcel_id"]
        own = case.parcels[id]
        evidence = {(e["feature_id"], e["measure"]): e["value"] for e in feature["properties"]["evidence"]}
        for water in waters.keys() & {feature for feature, measure in evidence if measure == "distance_to_parcel"}:
            others = others_near(case.parcels, case.owners, roads, id, own.buffer(case.tolerance_m + 1.0))
            expected = shore_length(waters[water], own, others, case.tolerance_m)
            distance = abs(evidence[water, "distance_to_parcel"] - own.distance(waters[water]))
            allowed = SAMPLED_M + SAMPLED_PART * expected + NEAR_A_POINT * case.tolerance_m
            yield id, water, distance, abs(evidence[water, "frontage_length"] - expected), allowed


def test_distance_and_length_along_a_shore(tmp_path, measured):
    found = []
    for seed in range(SHORE_SEEDS):
        case = random_cases.random_case(seed)
        if case.profile == "ontario" and any(way.polygons for way in case.waterways):
            (tmp_path / str(seed)).mkdir()
            found += [(seed, *off) for off in differences_along_shores(case, tmp_path / str(seed))]
    assert len(found) >= 40
    wrong = [off for off in found if off[3] > ROUNDING_M or off[4] > off[5]]
    assert not wrong, "\n".join(f"case {off[0]}, parcel {off[1]}, {off[2]}: distance {off[3]:.3f} m off, length {off[4]:.2f} m" for off in wrong)
    measured(f"{len(found)} parcels beside lakes and rivers, farthest length off by {max(off[4] for off in found):.2f} m")


def test_distance_and_length_of_frontage(demonstration, measured):
    _, parcels = demonstration.parcel_polygons()
    crs, roads = demonstration.roads()
    roads = projection.transform([road.polygon for road in roads], crs, demonstration.settings["crs"])
    lines = waterways(demonstration)
    tolerance = demonstration.settings["rules"]["abut_tolerance_m"]
    owners = {f["properties"]["parcel_id"]: f["properties"]["owner"] for f in demonstration.features("parcels")}
    distances, lengths = [], []
    for feature in demonstration.features("parcels"):
        properties = feature["properties"]
        own = parcels[properties["parcel_id"]]
        evidence = {(e["feature_id"], e["measure"]): e["value"] for e in properties["evidence"]}
        for (waterway, measure), value in evidence.items():
            if measure != "distance_to_parcel" or waterway not in lines:
                continue
            line, half = lines[waterway]
            distances.append(abs(value - max(0.0, own.distance(line) - half)))
            around = own.buffer(tolerance + half + 1.0)
            others = [
                land
                for other, land in parcels.items()
                if other != properties["parcel_id"]
                and not (owners[other] and owners[other] == properties["owner"])
                and land.intersects(around)
            ]
            others += [road for road in roads if road.intersects(around)]
            expected = open_length(line.intersection(around), half, own, others, tolerance)
            lengths.append(abs(evidence[waterway, "frontage_length"] - expected))
    assert len(distances) >= 20
    assert max(distances) <= ROUNDING_M
    assert max(lengths) <= SAMPLED_M
    measured(
        f"{len(distances)} parcels beside waterways, farthest distance off by {max(distances):.4f} m, "
        f"farthest length by {max(lengths):.2f} m"
    )
