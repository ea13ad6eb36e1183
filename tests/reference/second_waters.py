"""Lakes and wide rivers once more, from their polygons: whose cells they are and how high their surface lies.

Like `second_implementation.py` it shares no code with the program. What it takes for right is what the documentation of the layer
promises: a lake is level with the lowest ground on its shore, whatever the elevation says in it; a river keeps its heights, and takes
those beside it, of ground, lakes and other rivers, where it has none; of polygons that overlap the strongest class has the cells.
"""

import json
import re

import numpy as np
import shapely
from scipy import ndimage

AROUND = np.ones((3, 3))


class Waters:
    """Of a case with the given elevation in metres and waterways. `kinds` gives the kind of each class of the profile, in the profile's
    order, strongest first; `inside` which cells have their centre in a polygon."""

    def __init__(self, elevation, waterways, kinds, inside):
        rank = list(kinds)
        polygons = [way for way in waterways if way.polygons]
        strongest_first = sorted(polygons, key=lambda way: (rank.index(way.kind), way.id))
        self.lakes = {way.id for way in polygons if kinds[way.kind] == "lake"}
        self.of = np.full(elevation.shape, "", dtype=object)
        """The waterway whose water each cell is."""
        for way in strongest_first:
            self.of[inside(shapely.union_all(way.polygons)) & (self.of == "")] = way.id
        self.surveyed = elevation.astype(np.float64)
        """Heights with the surfaces of waters, metres."""
        self.levels = {way.id: {} for way in polygons if way.id in self.lakes}
        for way in (way for way in polygons if way.id in self.lakes):
            # Parts that share a shore are one water.
            for part in shapely.get_parts(shapely.union_all(way.polygons)):
                self.set_level(way.id, inside(part) & (self.of == way.id), elevation)
        self.fill(np.isin(self.of, [way.id for way in polygons if way.id not in self.lakes]))

    def set_level(self, id, cells, elevation):
        shore = ndimage.binary_dilation(cells, AROUND) & (self.of == "")
        known = [values[~np.isnan(values)] for values in (elevation[shore], elevation[cells])]
        if cells.any() and (heights := next((values for values in known if values.size), None)) is not None:
            self.surveyed[cells] = heights.min()
            self.levels[id][tuple(np.flatnonzero(cells))] = float(heights.min())

    def fill(self, cells):
        """From the banks and the lakes inward, all that is beside known heights at once."""
        while True:
            missing = cells & np.isnan(self.surveyed)
            filled = np.where(np.isnan(self.surveyed), np.inf, self.surveyed)
            lowest = ndimage.minimum_filter(filled, footprint=AROUND, mode="constant", cval=np.inf)
            reached = missing & np.isfinite(lowest)
            if not reached.any():
                return
            self.surveyed[reached] = lowest[reached]


SURFACE = re.compile(r"its surface was taken to lie at ([-0-9.]+) m")


def differing_levels(waters, out, seen):
    """Lakes whose surface the program takes to lie elsewhere, as text: by its notes, which name the level to the centimetre, once for
    each part."""
    notes = json.loads((out / "run.json").read_text())["warnings"]
    for id, levels in waters.levels.items():
        taken = [SURFACE.search(note["done"]) for note in notes if note["about"] == f"waterway {id}"]
        found, expected = sorted({level[1] for level in taken if level}), sorted({f"{level:.2f}" for level in levels.values()})
        seen["lakes"] += len(levels)
        if found != expected:
            yield f"the surface of {id} at {found} m, expected {expected}"
