"""Ponding on a real crop field with shallow closed depressions, and the depressions kept where the case asks for it."""

import numpy as np
import pytest
import rasterio
from scipy import ndimage

import cases
import kept_depressions
import program

# As the data's README prints them; the tolerances are half of the last digit.
PONDED_SHARE, PONDED_SHARE_TOLERANCE = 0.101, 0.0005
LARGEST_POND_HA, LARGEST_POND_HA_TOLERANCE = 1.49, 0.005
DEEPEST_M, DEEPEST_M_TOLERANCE = 0.52, 0.005
PONDED_DEEPER_THAN_M = 0.05
# Our choice. With the first, two of the field's ponds are larger, and neither threshold is near either of them; with the second
# several lie in each other.
KEPT_DEPTH_M_AREA_HA = [(0.15, 0.12), (0.05, 0.01)]
EIGHT_NEIGHBOURS = np.ones((3, 3))

CASE = """name = "Crop field, one invented parcel"
[terrain]
elevation = ["{dem}"]
vertical_unit = "m"
longest_cut_m = 0
keep_larger = {{ depth_m = {depth}, area_ha = {area} }}
[parcels]
source = "parcels.geojson"
id = "roll"
"""


class Field:
    def __init__(self, dem):
        self.dem = dem
        with rasterio.open(dem) as dataset:
            self.elevation = dataset.read(1, masked=True).filled(np.nan)
            self.crs, self.bounds = dataset.crs.to_string(), dataset.bounds
            self.cell_ha = dataset.res[0] * dataset.res[1] / 10_000.0


@pytest.fixture(scope="module")
def field(real_data):
    return Field(real_data / "crop_field/dem_3m.tif")


@pytest.mark.reference("scipy")
def test_ponding_with_cuts_off(field, tmp_path, measured):
    out = tmp_path / "out"
    program.run("terrain", field.dem, "--out", out, "--vertical-unit", "m", "--longest-cut", 0)
    with rasterio.open(out / "ground.tif") as dataset:
        depth = np.nan_to_num(dataset.read(1, masked=True).filled(np.nan) - field.elevation)
    ponded = depth > PONDED_DEEPER_THAN_M
    share = np.count_nonzero(ponded) / np.count_nonzero(~np.isnan(field.elevation))
    label, count = ndimage.label(ponded, EIGHT_NEIGHBOURS)
    largest = ndimage.sum_labels(ponded, label, range(1, count + 1)).max() * field.cell_ha
    measured(f"{share:.2%} of cells pond deeper than 5 cm, the largest pond {largest:.4f} ha, the deepest {depth.max():.3f} m")
    assert abs(share - PONDED_SHARE) <= PONDED_SHARE_TOLERANCE
    assert abs(largest - LARGEST_POND_HA) <= LARGEST_POND_HA_TOLERANCE
    assert abs(depth.max() - DEEPEST_M) <= DEEPEST_M_TOLERANCE


@pytest.mark.reference("scikit-image", "scipy")
@pytest.mark.parametrize(("depth_m", "area_ha"), KEPT_DEPTH_M_AREA_HA)
def test_potholes_are_kept(field, depth_m, area_ha, tmp_path, measured):
    cases.write_one_parcel(tmp_path / "parcels.geojson", field.bounds, field.crs)
    (tmp_path / "case.toml").write_text(CASE.format(dem=field.dem, depth=depth_m, area=area_ha))
    case = cases.outlets(tmp_path / "case.toml", tmp_path / "out")
    cell_m2 = field.cell_ha * 10_000.0
    expected, sinks, whole_cells, whole_m3 = kept_depressions.kept(field.elevation, cell_m2, depth_m, area_ha, 0.0)
    kept = [change["properties"] for change in case.features("terrain_changes") if change["properties"]["kind"] == "kept"]
    kept.sort(key=lambda change: (change["area_ha"], change["depth_m"]), reverse=True)
    expected.sort(key=lambda pond: (pond.cells, pond.depth_m), reverse=True)
    assert len(kept) == len(expected) > 0
    for change, pond in zip(kept, expected, strict=True):
        assert change["area_ha"] == pytest.approx(pond.cells * field.cell_ha, abs=1e-6)
        assert change["depth_m"] == pytest.approx(pond.depth_m, abs=0.001)
        assert change["volume_m3"] == pytest.approx(pond.volume_m3, abs=0.01)
    assert sum(change["area_ha"] for change in kept) == pytest.approx(whole_cells * field.cell_ha, abs=1e-6)
    assert sum(change["volume_m3"] for change in kept) == pytest.approx(whole_m3, abs=0.01 * len(kept))
    # Only hollows that are smaller are filled, up to where they spill into the deepest cell of a kept one.
    surface = kept_depressions.filled(field.elevation, sinks)
    np.testing.assert_array_equal(case.rasters.ground, surface)
    left = np.nansum(surface - field.elevation) / np.nansum(kept_depressions.filled(field.elevation) - field.elevation)
    measured(
        ", ".join(f"{pond.cells * field.cell_ha:.2f} ha, {pond.depth_m:.2f} m, {pond.volume_m3:.0f} m³" for pond in expected[:4])
        + f" ... {len(expected)} kept; the fill is {left:.1%} of what it is without"
    )
