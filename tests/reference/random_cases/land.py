"""Land of a random case: parcels cut by straight and slanted lot lines, with holes, enclaves, several parts, slivers and specks;
roads, fields, soils.

No lot line along a row or a column passes nearer than a tenth of a cell to the centres of cells, so that whose cell it is does not
hang on the last digit.
"""

import numpy as np
import shapely
import shapely.affinity

from road_lands import Road

# Of corners, as a survey gives them.
MILLIMETRE = 0.001
OFFSETS = (0.0, 0.0, 0.0, 0.2, 0.35, 0.7)


def parcels(rng, grid):
    """Polygons by id."""
    whole = extent(rng, grid)
    lots = split(rng, grid, whole, whole.area / rng.uniform(1.5, 7.0))
    lots = [lot for number, lot in enumerate(lots) if number == 0 or rng.random() < 0.9]
    if rng.random() < 0.5:
        lots = with_speck(rng, grid, lots)
    if rng.random() < 0.4:
        lots = with_strip(rng, grid, lots)
    if len(lots) > 3 and rng.random() < 0.5:
        one, other = rng.choice(len(lots), 2, replace=False)
        joined = polygonal(shapely.union(lots[one], lots[other]))
        lots = [lot for number, lot in enumerate(lots) if number not in (one, other)] + [joined]
    lots = [lot for lot in map(polygonal, lots) if lot is not None]
    numbers = rng.permutation(len(lots))
    prefix = str(rng.choice(["", "0527-", "Lot ", "Flurstück "]))
    return dict(sorted((f"{prefix}{number:03}", lot) for number, lot in zip(numbers, lots, strict=True)))


def overlapping(rng, lots, accuracy_m):
    """Two surveys that do not fit: some lots reach over their neighbours by less than the accuracy of boundaries."""
    chosen = [id for id in lots if rng.random() < 0.15]
    for id in chosen:
        if (wider := polygonal(shapely.affinity.translate(lots[id], accuracy_m / 3.0, 0.0).union(lots[id]))) is not None:
            lots[id] = wider
    return lots


def extent(rng, grid):
    """What parcels cover: the elevation, more than that, or less."""
    rows, cols = grid.shape
    kind = rng.random()
    out = rng.uniform(-2.4, 4.4, 4) if kind < 0.4 else np.zeros(4)
    out = np.round(out - 0.2) + rng.choice([0.0, 0.2], 4)
    return shapely.box(*grid.at(-out[0], rows + out[1]), *grid.at(cols + out[2], -out[3]))


def split(rng, grid, lot, most):
    """Cut into lots of at most so many square metres, by lines along rows and columns or slanted."""
    west, south, east, north = lot.bounds
    wide, high = (east - west) / grid.cell[0], (north - south) / grid.cell[1]
    if max(wide, high) < 3 or lot.area < most:
        return [lot]
    far = 10.0 * (east - west + north - south)
    if rng.random() < 0.3:
        middle, turn = shapely.Point(rng.uniform(west, east), rng.uniform(south, north)), rng.uniform(0.0, 180.0)
        half = shapely.affinity.rotate(shapely.box(middle.x - far, middle.y, middle.x + far, middle.y + far), turn, origin=middle)
    elif wide >= high:
        x, _ = grid.at(np.floor((rng.uniform(west, east) - grid.west) / grid.cell[0]) + rng.choice(OFFSETS), 0)
        half = shapely.box(x, south - far, x + 2.0 * far, north + far)
    else:
        _, y = grid.at(0, np.floor((grid.north - rng.uniform(south, north)) / grid.cell[1]) + rng.choice(OFFSETS))
        half = shapely.box(west - far, y, east + far, y + 2.0 * far)
    parts = [polygonal(lot.intersection(half)), polygonal(lot.difference(half))]
    if any(part is None for part in parts):
        return [lot]
    return [piece for part in parts for piece in split(rng, grid, part, most)]


def with_speck(rng, grid, lots):
    """A lot smaller than a cell, or somewhat larger, cut out of another one; or only the hole that it leaves."""
    host = lots[rng.integers(len(lots))]
    point = host.representative_point()
    half_width, half_height = (side * rng.choice([0.15, 0.3, 1.2, 2.2]) for side in grid.cell)
    # From the corner of a cell, so that no side runs through centres.
    row, col = grid.row_col(point.x, point.y)
    x, y = grid.at(col, row)
    speck = polygonal(shapely.box(x - half_width, y - half_height, x + half_width, y + half_height).intersection(host))
    if speck is None:
        return lots
    lots = [lot.difference(speck) for lot in lots]
    return [*lots, speck] if rng.random() < 0.6 else lots


def with_strip(rng, grid, lots):
    """A strip of land narrower than a cell, kept back along the side of a lot."""
    number = int(rng.integers(len(lots)))
    west, south, _, north = lots[number].bounds
    strip = polygonal(lots[number].intersection(shapely.box(west, south, west + grid.cell[0] * rng.choice([0.1, 0.3, 0.8]), north)))
    rest = strip and polygonal(lots[number].difference(strip))
    if rest is None:
        return lots
    return [*lots[:number], *lots[number + 1 :], strip, rest]


def roads(rng, grid):
    """Road land, straight or bent; it may lie on parcels, which come first."""
    rows, cols = grid.shape
    roads = []
    if rng.random() < 0.4:
        row = int(rng.integers(0, rows))
        roads.append(shapely.box(*grid.at(-1, row + rng.choice([0.3, 1.0, 2.0])), *grid.at(cols + 1, row)))
    if rng.random() < 0.3:
        col = int(rng.integers(0, cols))
        roads.append(shapely.box(*grid.at(col, rows + 1), *grid.at(col + rng.choice([0.3, 1.0, 2.0]), -1)))
    if rng.random() < 0.2:
        points = [grid.at(*place) for place in zip(rng.uniform(0, cols, 3), rng.uniform(0, rows, 3), strict=True)]
        roads.append(shapely.LineString(points).buffer(grid.least * 0.7, cap_style="flat", join_style="mitre"))
    return [road for road in map(polygonal, roads) if road is not None]


def named(rng, grid, polygons, lots):
    """The features of the road layer: some roads in two features that overlap; ids of their own, ids that parcels have, or none."""
    features = []
    for number, polygon in enumerate(polygons):
        own = str(rng.choice([f"R{number}", *list(lots)[:2]]))
        id = own if rng.random() < 0.8 else None
        name = f"Invented {id} Line" if id is not None and rng.random() < 0.7 else None
        authority = str(rng.choice(["Township of Oxpindle", "County of Thrumbleby"])) if rng.random() < 0.7 else None
        pieces = in_two(grid, polygon) if id is not None and rng.random() < 0.4 else [polygon]
        features += [Road(piece, id, name, authority) for piece in pieces]
    shared = [id for id in {road.id for road in features if road.id} if len({(road.name, road.authority) for road in features if road.id == id}) > 1]
    # Roads that came to share an id by chance must agree.
    return [Road(road.polygon, road.id) if road.id in shared else road for road in features]


def in_two(grid, polygon):
    """Two pieces that share a cell's width along the middle."""
    west, south, east, north = polygon.bounds
    across = east - west > north - south
    middle = (west + east) / 2.0 if across else (south + north) / 2.0
    far = 10.0 * (east - west + north - south)
    boxes = [
        shapely.box(*((middle - far, south - far, middle + grid.least, north + far) if across else (west - far, middle - far, east + far, middle + grid.least))),
        shapely.box(*((middle, south - far, middle + far, north + far) if across else (west - far, middle, east + far, middle + far))),
    ]
    pieces = [polygonal(polygon.intersection(box)) for box in boxes]
    return [polygon] if any(piece is None for piece in pieces) else pieces


def without(lots, roads):
    """Lots that keep off the road."""
    if not roads:
        return lots
    road = shapely.union_all(roads)
    left = {id: polygonal(lot.difference(road)) for id, lot in lots.items()}
    return {id: lot for id, lot in left.items() if lot is not None} or lots


def patch(rng, grid):
    """A rectangle somewhere on the elevation."""
    rows, cols = grid.shape
    col, row = int(rng.integers(0, cols)), int(rng.integers(0, rows))
    return shapely.box(*grid.at(col, row + rng.integers(1, 7)), *grid.at(col + rng.integers(1, 7), row))


def fields(rng, grid, lots):
    """(id, parcel, polygon): parts of lots; none where all lie beside the elevation, for which a layer is refused."""
    found = []
    for number, (id, lot) in enumerate(lots.items()):
        field = polygonal(lot.intersection(patch(rng, grid)))
        if field is not None:
            found.append((f"F{number}", id, field))
    return found if any(field.intersects(grid.box) for *_, field in found) else []


def polygonal(geometry):
    """A valid polygon with corners in whole millimetres; `None` where nothing is left."""
    rounded = shapely.set_precision(geometry, MILLIMETRE)
    parts = [part for part in shapely.get_parts(rounded) if part.geom_type == "Polygon" and part.area > 0.01]
    if not parts:
        return None
    whole = parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
    return whole if whole.is_valid else None
