"""Contributing areas and transfers of the demonstration, by following every cell's path on the exported directions and links."""

import numpy as np
import pytest
import shapely

import balance
import cases
import flow
import land_cells
import projection
from road_lands import UNOWNED, is_parcel, party, road_lands

pytestmark = pytest.mark.reference("numpy", "shapely")


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


@pytest.fixture(scope="module", params=["as drawn", "with a gap"])
def case(request, demonstration, tmp_path_factory):
    """The demonstration as it is; and with a gap between two parcels, within the accuracy of boundaries and as wide as a cell."""
    if request.param == "as drawn":
        return demonstration
    folder = tmp_path_factory.mktemp("gap")
    file, layer = cases.copy_with_parcels(demonstration, folder / "case")
    one, other = cases.neighbours(layer.polygons)
    width = demonstration.settings["parcels"]["accuracy_m"]
    layer.polygons[one] = layer.polygons[one].difference(layer.polygons[other].buffer(width, join_style="mitre"))
    layer.write()
    return cases.outlets(file, folder / "out")


@pytest.fixture(scope="module")
def walked(case):
    """Parcel ids in order, the parties, and cells by (giving party, receiving parcel): parcels, then roads, then unowned land."""
    crs, parcels = case.parcel_polygons()
    road_crs, roads = case.roads()
    roads = road_lands(roads)
    ids = sorted(parcels)
    rasters = case.rasters
    parties = [*(parcels[id] for id in ids), *(projection.transform(road.polygon, road_crs, crs) for road in roads.values())]
    drawn = land_cells.cells_by_party(rasters, parties)
    across, down = (int(case.settings["parcels"]["accuracy_m"] // side) for side in rasters.cell)
    owner = land_cells.close_gaps(drawn, len(parties), across, down).ravel()
    closed = np.count_nonzero(owner != drawn.ravel())
    receiver = flow.receivers(rasters.direction, case.features("links"))
    touched = parcels_on_path(receiver, owner, len(ids))
    valid = rasters.valid.ravel()
    cells = np.empty((len(parties) + 1, len(ids)), dtype=np.int64)
    for number in range(len(ids)):
        bit = (touched[:, number // 64] >> np.uint64(number % 64)) & np.uint64(1)
        cells[:, number] = np.bincount(owner[valid & (bit == 1)], minlength=len(parties) + 1)
    return ids, [*ids, *roads, UNOWNED], cells, closed


def test_own_and_contributing_cells(case, walked, measured):
    ids, _, walked_cells, closed = walked
    cells = balance.Cells(case.rasters)
    found = {feature["properties"]["parcel_id"]: feature["properties"] for feature in case.features("parcels")}
    differing = []
    for number, id in enumerate(ids):
        expected = (walked_cells[number, number], walked_cells[:, number].sum())
        actual = (cells(found[id]["own_ha"]), cells(found[id]["contributing_ha"]))
        if actual != expected:
            differing.append(f"{id}: own and contributing cells {actual}, walked {expected}")
    assert not differing, "\n".join(differing[:20])
    measured(f"{len(ids)} parcels, own and contributing area equal to the cell; {closed} cells of gaps closed")


def test_transfers_between_parcels(case, walked, measured):
    ids, givers, walked_cells, _ = walked
    cells = balance.Cells(case.rasters)
    differing, transfers = [], 0
    for feature in case.features("parcels"):
        parcel = feature["properties"]
        number = ids.index(parcel["parcel_id"])
        expected = {
            giver: int(walked_cells[row, number])
            for row, giver in enumerate(givers)
            if row != number and walked_cells[row, number] > 0
        }
        actual = {party(giver): cells(giver["hectares"]) for giver in parcel["receives_from"]}
        transfers += len(expected)
        if actual != expected:
            apart = {giver for giver in expected.keys() | actual.keys() if expected.get(giver) != actual.get(giver)}
            differing.append(
                f"{parcel['parcel_id']}: " + ", ".join(f"{g} {actual.get(g)} walked {expected.get(g)}" for g in sorted(apart, key=str)[:5])
            )
    assert not differing, "\n".join(differing[:20])
    roads = sum(not is_parcel(giver) and giver != UNOWNED for giver in givers)
    assert roads > 1
    measured(f"{transfers} transfers equal to the cell, {roads} roads among the givers")


def test_the_gap_is_closed(case, walked):
    """Without this the second case would prove no more than the first."""
    noted = [warning for warning in case.run["warnings"] if warning["found"].startswith("gaps of ")]
    *_, closed = walked
    assert [int(warning["found"].split()[2]) for warning in noted] == ([closed] if closed else [])
    assert closed > 0 or case.out.parent.name.startswith("demonstration")
