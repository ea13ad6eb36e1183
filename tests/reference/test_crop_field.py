"""Ponding on a real crop field with shallow closed depressions, and the depressions kept where the case asks for it."""

import numpy as np
import pytest
import rasterio
from scipy import ndimage
from skimage.morphology import reconstruction

import cases
import flow
import program

# As the data's README prints them; the tolerances are half of the last digit.
PONDED_SHARE, PONDED_SHARE_TOLERANCE = 0.101, 0.0005
LARGEST_POND_HA, LARGEST_POND_HA_TOLERANCE = 1.49, 0.005
DEEPEST_M, DEEPEST_M_TOLERANCE = 0.52, 0.005
PONDED_DEEPER_THAN_M = 0.05
# Our choice: two of the field's ponds are larger, and neither threshold is near either of them.
KEPT_DEPTH_M, KEPT_AREA_HA = 0.15, 0.12
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

    def filled(self, sinks=()):
        """Morphological reconstruction by erosion (Vincent 1993) from the rim of the data and the `sinks`."""
        valid = ~np.isnan(self.elevation)
        wall = self.elevation[valid].max() + 1.0
        ground = np.where(valid, self.elevation, wall)
        seed = np.where(flow.beside_nodata_or_edge(valid), ground, wall)
        for sink in sinks:
            seed[sink] = ground[sink]
        filled = reconstruction(seed, ground, method="erosion", footprint=EIGHT_NEIGHBOURS)
        return np.where(valid, filled, np.nan).astype(np.float32)

    def ponds(self):
        """Of each pond larger than both thresholds: cells, greatest depth, volume, deepest cell."""
        depth = np.nan_to_num(self.filled() - self.elevation)
        label, count = ndimage.label(depth > 0.0, EIGHT_NEIGHBOURS)
        for number in range(1, count + 1):
            inside = np.where(label == number, depth, 0.0)
            cells = np.count_nonzero(inside)
            if inside.max() > KEPT_DEPTH_M and cells * self.cell_ha > KEPT_AREA_HA:
                lowest = np.where(label == number, self.elevation, np.inf)
                yield cells, inside.max(), inside.sum() * self.cell_ha * 10_000.0, np.unravel_index(lowest.argmin(), lowest.shape)


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
def test_potholes_are_kept(field, tmp_path, measured):
    cases.write_one_parcel(tmp_path / "parcels.geojson", field.bounds, field.crs)
    (tmp_path / "case.toml").write_text(CASE.format(dem=field.dem, depth=KEPT_DEPTH_M, area=KEPT_AREA_HA))
    case = cases.outlets(tmp_path / "case.toml", tmp_path / "out")
    ponds = sorted(field.ponds(), reverse=True)
    kept = [change["properties"] for change in case.features("terrain_changes") if change["properties"]["kind"] == "kept"]
    kept.sort(key=lambda change: change["area_ha"], reverse=True)
    assert len(kept) == len(ponds) > 0
    for change, (cells, depth, volume, _) in zip(kept, ponds, strict=True):
        assert change["area_ha"] == pytest.approx(cells * field.cell_ha, abs=1e-6)
        assert change["depth_m"] == pytest.approx(depth, abs=0.001)
        assert change["volume_m3"] == pytest.approx(volume, abs=0.01)
    # Only hollows inside a pothole are filled, up to where they spill into its deepest cell.
    expected = field.filled(deepest for *_, deepest in ponds)
    np.testing.assert_array_equal(case.rasters.ground, expected)
    left = np.nansum(expected - field.elevation) / np.nansum(field.filled() - field.elevation)
    measured(
        ", ".join(f"{cells * field.cell_ha:.2f} ha, {depth:.2f} m, {volume:.0f} m³" for cells, depth, volume, _ in ponds)
        + f" kept; the fill is {left:.1%} of what it is without"
    )
