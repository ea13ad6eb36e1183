"""Contributing areas and transfers of the demonstration, by following every cell's path on the exported directions and links."""

import numpy as np
import pytest
import shapely

import balance
import flow

pytestmark = pytest.mark.reference("numpy", "shapely")


# A centre exactly on a boundary belongs to the polygon east of it or, on an east-west boundary, south of it: the program's own
# rule. Metres, far below any survey and far above the rounding of map coordinates.
NUDGE_EAST_M, NUDGE_SOUTH_M = 1e-5, 1e-7


def owners_of_cells(rasters, parties):
    """For each cell the number of the first party whose polygon holds its centre; `len(parties)` where none does."""
    rows, cols = rasters.ground.shape
    transform = rasters.transform
    x = transform.c + (np.arange(cols) + 0.5) * transform.a + NUDGE_EAST_M
    y = transform.f + (np.arange(rows) + 0.5) * transform.e - NUDGE_SOUTH_M
    owner = np.full((rows, cols), len(parties))
    for number, polygon in enumerate(parties):
        west, south, east, north = polygon.bounds
        col, row = np.flatnonzero((x >= west) & (x <= east)), np.flatnonzero((y >= south) & (y <= north))
        if col.size and row.size:
            window = np.ix_(row, col)
            shapely.prepare(polygon)
            inside = shapely.contains_xy(polygon, *np.meshgrid(x[col], y[row]))
            owner[window] = np.where(inside & (owner[window] == len(parties)), number, owner[window])
    return owner.ravel()


def parcels_on_path(receiver, owner, parcels):
    """For each cell one bit per parcel: does its path, the cell itself included, touch the parcel.

    Doubling: after k rounds a cell knows the parcels on the first 2ᵏ cells of its path.
    """
    beyond = receiver.size
    ahead = np.append(np.where(receiver < 0, beyond, receiver), beyond)
    touched = np.zeros((beyond + 1, -(-parcels // 64)), dtype=np.uint64)
    owned = np.flatnonzero(owner < parcels)
    touched[owned, owner[owned] // 64] = np.left_shift(np.uint64(1), (owner[owned] % 64).astype(np.uint64))
    for _ in range(beyond.bit_length()):
        touched |= touched[ahead]
        ahead = ahead[ahead]
    return touched[:beyond]


@pytest.fixture(scope="module")
def walked(demonstration):
    """Parcel ids in order, and cells by (giving party, receiving parcel); the last two parties are road and unowned."""
    _, parcels = demonstration.source_polygons("parcels")
    _, roads = demonstration.source_polygons("roads")
    ids = sorted(parcels)
    rasters = demonstration.rasters
    parties = [*(parcels[id] for id in ids), shapely.union_all(list(roads.values()))]
    owner = owners_of_cells(rasters, parties)
    receiver = flow.receivers(rasters.direction, demonstration.features("links"))
    touched = parcels_on_path(receiver, owner, len(ids))
    valid = rasters.valid.ravel()
    cells = np.empty((len(ids) + 2, len(ids)), dtype=np.int64)
    for number in range(len(ids)):
        bit = (touched[:, number // 64] >> np.uint64(number % 64)) & np.uint64(1)
        cells[:, number] = np.bincount(owner[valid & (bit == 1)], minlength=len(ids) + 2)
    return ids, cells


def test_own_and_contributing_cells(demonstration, walked, measured):
    ids, walked_cells = walked
    cells = balance.Cells(demonstration.rasters)
    found = {feature["properties"]["parcel_id"]: feature["properties"] for feature in demonstration.features("parcels")}
    differing = []
    for number, id in enumerate(ids):
        expected = (walked_cells[number, number], walked_cells[:, number].sum())
        actual = (cells(found[id]["own_ha"]), cells(found[id]["contributing_ha"]))
        if actual != expected:
            differing.append(f"{id}: own and contributing cells {actual}, walked {expected}")
    assert not differing, "\n".join(differing[:20])
    measured(f"{len(ids)} parcels, own and contributing area equal to the cell")


def test_transfers_between_parcels(demonstration, walked, measured):
    ids, walked_cells = walked
    cells = balance.Cells(demonstration.rasters)
    givers = [*ids, "road", "unowned"]
    differing, transfers = [], 0
    for feature in demonstration.features("parcels"):
        parcel = feature["properties"]
        number = ids.index(parcel["parcel_id"])
        expected = {
            giver: int(walked_cells[row, number])
            for row, giver in enumerate(givers)
            if row != number and walked_cells[row, number] > 0
        }
        actual = {giver["parcel_id"]: cells(giver["hectares"]) for giver in parcel["receives_from"]}
        transfers += len(expected)
        if actual != expected:
            apart = {giver for giver in expected.keys() | actual.keys() if expected.get(giver) != actual.get(giver)}
            differing.append(
                f"{parcel['parcel_id']}: " + ", ".join(f"{g} {actual.get(g)} walked {expected.get(g)}" for g in sorted(apart)[:5])
            )
    assert not differing, "\n".join(differing[:20])
    measured(f"{transfers} transfers equal to the cell")
