"""How the rasters lie in their files, and their overviews, read by another library than the one that writes them."""

import numpy as np
import pytest
import rasterio
import tifffile

import rasters
import terrains

SHAPE = (1_100, 1_700)
# Halved, rounded up, until one block of 256 x 256 cells holds all: rows and columns.
OVERVIEWS = [(550, 850), (275, 425), (138, 213)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    rng = np.random.default_rng(5)
    ground = terrains.with_holes(rng, terrains.stepped(rng, SHAPE)).astype(np.float32)
    folder = tmp_path_factory.mktemp("overviews")
    rasters.condition(terrains.Terrain("stepped", ground), folder)
    return folder / "out"


def nearest(cells, level):
    """The cell at the centre of each cell of an overview."""
    factor = 2 ** (level + 1)
    rows, cols = (np.minimum(np.arange(-(-side // factor)) * factor + factor // 2, side - 1) for side in cells.shape)
    return cells[np.ix_(rows, cols)]


@pytest.mark.reference("tifffile", "numpy")
def test_codes_and_counts_have_overviews_of_the_nearest_cells(folder, measured):
    for name in ("direction.tif", "area_draining.tif"):
        with tifffile.TiffFile(folder / name) as file:
            full, *overviews = file.pages
            assert [page.shape for page in overviews] == OVERVIEWS
            for page in file.pages:
                assert (page.tile, page.compression, page.predictor) == ((256, 256), 8, 2), "tiles, DEFLATE, differences"
            cells = full.asarray()
            for level, overview in enumerate(overviews):
                np.testing.assert_array_equal(overview.asarray(), nearest(cells, level))
            assert places(file) == sorted(places(file)), "blocks lie in the order of rows, the raster first"
    measured(f"{len(OVERVIEWS)} overviews of {SHAPE[0]} x {SHAPE[1]} cells, of codes and of counts: all cells equal")


def places(file):
    return [offset for page in file.pages for offset in page.dataoffsets]


@pytest.mark.reference("rasterio", "numpy")
def test_heights_have_overviews_of_the_nearest_cells(folder, measured):
    with rasterio.open(folder / "ground.tif") as dataset:
        assert dataset.overviews(1) == [2, 4, 8]
        cells = dataset.read(1)
    for level, shape in enumerate(OVERVIEWS):
        with rasterio.open(folder / "ground.tif", overview_level=level) as overview:
            assert overview.shape == shape and overview.nodata is not None
            np.testing.assert_array_equal(overview.read(1), nearest(cells, level))
    measured(f"{len(OVERVIEWS)} overviews of heights: all cells equal")
