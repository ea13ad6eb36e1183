"""What a random case is made of. All lengths are metres on the map; polygons and lines are shapely's."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely


@dataclass(frozen=True)
class Grid:
    """The cells of an elevation model, row 0 in the north."""

    shape: tuple
    cell: tuple
    """Cell width and height."""
    west: float
    north: float
    crs: str

    @property
    def least(self):
        return min(self.cell)

    @property
    def hectares_per_cell(self):
        return self.cell[0] * self.cell[1] / 10_000.0

    @cached_property
    def box(self):
        rows, cols = self.shape
        return shapely.box(self.west, self.north - rows * self.cell[1], self.west + cols * self.cell[0], self.north)

    def at(self, col, row):
        """The point so many cell widths east and cell heights south of the north-west corner."""
        return self.west + col * self.cell[0], self.north - row * self.cell[1]

    def centre(self, row, col):
        return self.at(col + 0.5, row + 0.5)

    def row_col(self, x, y):
        """The cell that holds a point, which may lie outside."""
        return int(np.floor((self.north - y) / self.cell[1])), int(np.floor((x - self.west) / self.cell[0]))

    def holds(self, row, col):
        return 0 <= row < self.shape[0] and 0 <= col < self.shape[1]


@dataclass
class Waterway:
    id: str
    kind: str
    lines: list
    """None where it is mapped as polygons."""
    width_m: float | None = None
    parties: list | None = None
    registered: bool | None = None
    agreed: str | None = None
    polygons: list = field(default_factory=list)
    """Of a lake or a wide river, the parts of its water."""

    @property
    def shape(self):
        return shapely.union_all(self.polygons) if self.polygons else shapely.MultiLineString(self.lines)


@dataclass
class Structure:
    id: str
    kind: str
    """`culvert`, or the class of a pipe; empty for a pipe without class."""
    line: shapely.LineString
    inverts: tuple | None = None
    sizes: dict = field(default_factory=dict)


@dataclass
class RandomCase:
    seed: int
    grid: Grid
    ground: np.ndarray
    """Heights in the unit of the case's elevation; NaN where there is none."""
    unit: str
    storage: dict
    """How the elevation is stored: `dtype`, `nodata`, `tiles` (rows, columns)."""
    parcels: dict
    """Polygons by id."""
    owners: dict
    roads: list
    """Features of the road layer."""
    fields: list
    """(id, parcel, polygon)"""
    waterways: list
    structures: list
    tiled: list
    """(pipe, polygon)"""
    schedules: dict
    """For each drain the hectares by parcel."""
    levels: list
    sections: list
    kept: list
    soils: list
    rainfall: bool
    tables: dict
    """Entries of the case file by table, besides layers and their fields."""
    formats: dict
    """The format of each layer by its name: `geojson`, `gpkg`, `shp` or `fgb`."""

    @property
    def metres_per_unit(self):
        """International foot: 0.3048 m by definition (1959); US survey foot: 1200/3937 m by definition (1893)."""
        return {"m": 1.0, "ft": 0.3048, "us-ft": 1200.0 / 3937.0}[self.unit]

    @property
    def surveyed_m(self):
        return self.ground * self.metres_per_unit

    @property
    def profile(self):
        return self.tables["rules"]["profile"]

    @property
    def accuracy_m(self):
        return self.tables["parcels"]["accuracy_m"]

    @property
    def tolerance_m(self):
        return self.tables["rules"]["abut_tolerance_m"]
