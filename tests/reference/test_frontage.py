"""Distance to the bank and length of frontage, worked out anew with shapely."""

import numpy as np
import pyogrio
import pytest
import shapely

import projection

pytestmark = pytest.mark.reference("shapely", "pyproj")

# Half a millimetre for rounding; lengths are sampled, here every half metre, in the program every metre.
ROUNDING_M = 0.0006
SAMPLED_M = 3.0


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
