"""The written outputs of a random case, and the walk of every cell over them: by the directions and the links, from cell to cell,
to where the water ends. Whose land a cell is comes from the case's own polygons, heights from its own elevation.

Which waterway's channel a cell is follows from the lines of reaches. Two kinds of channel cells lie on none: those where a structure
takes in the water, and corners of a few cells that the flow cuts. There a waterway drawn nearby is possible, not certain.
"""

import json
import tomllib
from functools import cached_property

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry import shape

import flow
import land_cells
import program
import projection
import rasters
from joined_pipes import JoinedPipes
from road_lands import UNOWNED, road_lands
from second_waters import Waters

# Stated in the design as our choice: the longest corner, and the reach of a structure's end to a channel, in cells.
CORNER_CELLS = 3
NEAR_CELLS = 2.0
LAYERS = ("parcels", "paths", "crossings", "reaches", "watersheds", "links", "buffers", "terrain_changes")


class Broken(Exception):
    """The outputs do not even allow a walk."""


class Walked:
    def __init__(self, case, out):
        self.case, self.grid, self.out = case, case.grid, out
        self.rows, self.cols = case.grid.shape
        self.written = {name: json.loads((out / f"{name}.geojson").read_text())["features"] for name in LAYERS}
        self.layers = dict(self.written)
        for name in ("paths", "crossings"):
            # Piped paths do not begin at leaving points: `second_piped.py` walks them.
            self.layers[name] = [item for item in self.layers[name] if item["properties"]["water"] == "surface"]
        self.rasters = rasters.read(out)
        self.direction = self.rasters.direction.ravel()
        self.links = {link["link_id"]: link for link in self.properties("links")}
        self.pipes = JoinedPipes(self)
        self.link_at = {self.index(link["inlet_cell"]): link for link in self.links.values()}
        try:
            self.receiver = [int(next) for next in flow.receivers(self.rasters.direction, self.layers["links"])]
        except AssertionError as fault:
            raise Broken(str(fault)) from None
        self.cells = [int(cell) for cell in np.flatnonzero(self.direction != flow.NODATA)]
        self.donors = {cell: [] for cell in range(self.direction.size)}
        for cell in self.cells:
            if self.receiver[cell] >= 0:
                self.donors[self.receiver[cell]].append(cell)
        self.downstream_first = self.in_order()
        profile = tomllib.loads((program.ROOT / f"crates/law/profiles/{case.profile}.toml").read_text())
        self.classes = {item["id"]: item for item in profile["class"]}
        kinds = {id: item["kind"] for id, item in self.classes.items()}
        self.waters = Waters(case.surveyed_m, case.waterways, kinds, self.holding_centre)
        self.reach_at, self.reach_cells = {}, {}
        for reach in self.layers["reaches"]:
            self.put_on_cells(reach)
        self.put_waters_on_cells()

    # Layers

    def properties(self, name):
        return [feature["properties"] for feature in self.layers[name]]

    @cached_property
    def parcels(self):
        return {parcel["parcel_id"]: parcel for parcel in self.properties("parcels")}

    @cached_property
    def run(self):
        return json.loads((self.out / "run.json").read_text())

    @cached_property
    def waterways(self):
        return {way.id: way for way in self.case.waterways}

    def is_lawful(self, kind):
        return bool(kind) and self.classes[kind]["lawful_outlet"]

    def kind_of(self, feature):
        return self.waterways[feature].kind if feature in self.waterways else self.links[feature]["class"]

    def on_map(self, geometry):
        return projection.from_lonlat(shape(geometry), self.grid.crs)

    def put_on_cells(self, reach):
        name = reach["properties"]["reach_id"]
        if reach["geometry"] is None:
            cells = [self.index([int(part) for part in reach["properties"]["upper_node"].split(".")])]
        else:
            cells = [self.at(*point) for point in self.on_map(reach["geometry"]).coords]
            if not reach["properties"]["lower_node"].endswith(".end"):
                # The last point is the cell that takes the water.
                cells.pop()
        self.reach_cells[name] = cells
        for cell in cells:
            if cell in self.reach_at:
                raise Broken(f"reaches {name} and {self.reach_at[cell]['reach_id']} share {self.name(cell)}")
            self.reach_at[cell] = reach["properties"]

    def put_waters_on_cells(self):
        """A polygon has one reach for each cell that takes in its water. Where only a corner of it drains there, that belongs to the
        reach of the same waterway that takes it in."""
        drawn = {self.way_out(cells[0]): self.reach_at[cells[0]] for cells in self.reach_cells.values() if self.water_of[cells[0]]}
        for cell in self.downstream_first:
            if self.water_of[cell] and cell not in self.link_at and cell not in self.reach_at:
                taker = self.reach_at.get(self.way_out(cell)[1])
                corner = taker if taker and taker["waterway_id"] == self.water_of[cell] else None
                if reach := drawn.get(self.way_out(cell), corner):
                    self.reach_at[cell] = reach

    def way_out(self, cell):
        """For a cell of a polygon its connected water, and the cell that takes in what leaves that; its own cell where that ends."""
        body = self.bodies[cell]
        while self.receiver[cell] >= 0 and self.bodies[cell] == body and cell not in self.link_at:
            cell = self.receiver[cell]
        return body, cell

    @cached_property
    def water_of(self):
        """For each cell the waterway whose polygon it lies in, or an empty text."""
        return list(self.waters.of.ravel())

    @cached_property
    def bodies(self):
        """For each cell the number of its connected water, 0 for none."""
        bodies = np.zeros((self.rows, self.cols), dtype=int)
        has_data = (self.direction != flow.NODATA).reshape(self.rows, self.cols)
        for id in sorted(set(self.water_of) - {""}):
            labels, _ = ndimage.label((self.waters.of == id) & has_data, np.ones((3, 3)))
            bodies[labels > 0] = labels[labels > 0] + bodies.max()
        return [int(body) for body in bodies.ravel()]

    # Cells

    def holding_centre(self, polygon):
        """Which cells have their centre in a polygon on the map."""
        return shapely.contains_xy(polygon, *self.centres).reshape(self.rows, self.cols)

    def index(self, col_row):
        return col_row[1] * self.cols + col_row[0]

    def name(self, cell):
        return f"cell {cell % self.cols}.{cell // self.cols}"

    def centre(self, cell):
        return self.grid.centre(cell // self.cols, cell % self.cols)

    def at(self, x, y):
        row, col = self.grid.row_col(x, y)
        if not self.grid.holds(row, col):
            raise Broken(f"a place outside the elevation: {x}, {y}")
        return row * self.cols + col

    def around(self, cell):
        row, col = divmod(cell, self.cols)
        beside = [(row + down, col + right) for down, right in flow.STEPS.values()]
        return [r * self.cols + c for r, c in beside if self.grid.holds(r, c)]

    def hectares(self, cells):
        return cells * self.grid.hectares_per_cell

    def inside(self, geometry):
        """Cells whose centre lies in a polygon in longitude and latitude; none where there is no polygon."""
        if geometry is None:
            return set()
        polygon = self.on_map(geometry)
        shapely.prepare(polygon)
        return {int(cell) for cell in np.flatnonzero(shapely.contains_xy(polygon, *self.centres))}

    @cached_property
    def centres(self):
        places = [self.centre(cell) for cell in range(self.direction.size)]
        return np.array(places).T

    @cached_property
    def surveyed_m(self):
        return self.waters.surveyed.ravel()

    # Whose land

    @cached_property
    def roads(self):
        return road_lands(self.case.roads)

    @cached_property
    def party(self):
        """Parcels in the order of their ids, then roads in the order of theirs, then nobody; gaps within the accuracy of boundaries
        closed."""
        ids = sorted(self.case.parcels)
        polygons = [self.case.parcels[id] for id in ids] + [road.polygon for road in self.roads.values()]
        owner = land_cells.cells_by_party(self.rasters, polygons)
        across, down = (int(self.case.accuracy_m // side) for side in self.grid.cell)
        owner = land_cells.close_gaps(owner, len(polygons), across, down)
        names = [*ids, *self.roads, UNOWNED]
        return [names[number] for number in owner.ravel()]

    @cached_property
    def own(self):
        """Cells with elevation of each party."""
        own = {}
        for cell in self.cells:
            own.setdefault(self.party[cell], []).append(cell)
        return own

    @cached_property
    def touched(self):
        """For each cell the parties that its water touches, its own included."""
        touched = {}
        for cell in self.downstream_first:
            touched[cell] = touched.get(self.receiver[cell], frozenset()) | {self.party[cell]}
        return touched

    @cached_property
    def tiled(self):
        """Cells with elevation by the pipe that drains them: of the first area that holds them, where the pipe is used."""
        tiled, known = {}, set(self.cells)
        for pipe, area in self.case.tiled:
            inside = shapely.contains_xy(area, *self.centres)
            for cell in known & {int(cell) for cell in np.flatnonzero(inside)}:
                tiled.setdefault(cell, pipe)
        return {cell: pipe for cell, pipe in tiled.items() if pipe in self.links}

    # The walk

    def in_order(self):
        """Every cell after the one that takes its water."""
        order = [cell for cell in self.cells if self.receiver[cell] < 0]
        for cell in order:
            order.extend(self.donors[cell])
        if len(order) != len(self.cells):
            circle = set(self.cells) - set(order)
            raise Broken(f"{len(circle)} cells never come to an end, among them {self.name(min(circle))}")
        return order

    @cached_property
    def draining(self):
        """Cells draining through each cell, itself included."""
        count = dict.fromkeys(self.cells, 1)
        for cell in reversed(self.downstream_first):
            if self.receiver[cell] >= 0:
                count[self.receiver[cell]] += count[cell]
        return count

    def walk(self, cell):
        path = [cell]
        while self.receiver[path[-1]] >= 0:
            path.append(self.receiver[path[-1]])
        return path

    def out_of(self, reach):
        """Cells draining out of a reach: over its lower end, out of a polygon by every cell that leaves it."""
        cells = self.reach_cells[reach["reach_id"]]
        if not self.water_of[cells[0]]:
            return self.draining[cells[-1]]
        whole = {cell for cell, of in self.reach_at.items() if of["reach_id"] == reach["reach_id"]}
        return sum(self.draining[cell] for cell in whole if self.receiver[cell] not in whole)

    def above(self, starts):
        """All cells whose water comes to some cells, these included."""
        found, open = set(starts), list(starts)
        while open:
            for donor in self.donors[open.pop()]:
                if donor not in found:
                    found.add(donor)
                    open.append(donor)
        return found

    def end(self, cell):
        """At the outer edge, at a hole that data surround, in a lake without an outlet, or in a kept depression."""
        around = self.around(cell)
        missing, _ = self.missing
        beside = {missing.flat[next] for next in around} - {0}
        if len(around) < 8 or beside & self.missing[1]:
            return "edge"
        if beside:
            return "hole"
        return "closed_lake" if self.water_of[cell] in self.waters.lakes else "kept_depression"

    @cached_property
    def missing(self):
        """Holes by number, and the numbers of those that meet the raster's edge."""
        has_data = (self.direction != flow.NODATA).reshape(self.rows, self.cols)
        labels, _ = ndimage.label(~has_data, np.ones((3, 3)))
        return labels, {*labels[0], *labels[-1], *labels[:, 0], *labels[:, -1]} - {0}

    # Channels and outlets

    def near(self, cell):
        """Waterways whose line passes so near to a cell that it can be part of their channel."""
        return {id for id, near in self.near_cells.items() if near[cell]}

    @cached_property
    def near_cells(self):
        """By waterway, whether each cell is near it."""
        points = shapely.points(self.centres.T)
        widest = max((way.width_m or 0.0 for way in self.case.waterways), default=0.0)
        reach = NEAR_CELLS * np.hypot(*self.grid.cell) + widest / 2.0
        return {way.id: shapely.dwithin(way.shape, points, reach) for way in self.case.waterways}

    def reaches_soon(self, cell):
        """The waterways whose reach the water of a cell enters within a corner's length."""
        following = self.walk(cell)[1 : CORNER_CELLS + 1]
        return {self.reach_at[next]["waterway_id"] for next in following if next in self.reach_at}

    def possible_channels(self, cell):
        """Waterways whose channel a cell may be, and whether that is certain."""
        if water := self.water_of[cell]:
            return {water}, True
        if (reach := self.reach_at.get(cell)) is not None:
            return {reach["waterway_id"]}, True
        if cell in self.link_at:
            return self.near(cell), False
        return self.reaches_soon(cell) & self.near(cell), False

    def possible_outlets(self, cell):
        """Lawful outlets that water may meet in a cell, the first in a channel before the structure that takes its water in; `None`
        among them where it may go on."""
        if (water := self.water_of[cell]) and self.is_lawful(self.waterways[water].kind):
            return {water}
        if (reach := self.reach_at.get(cell)) is not None:
            in_channel = [reach["waterway_id"], *(also["waterway_id"] for also in reach["also"])]
            if first := next((id for id in in_channel if self.is_lawful(self.waterways[id].kind)), None):
                return {first}
        channels, _ = self.possible_channels(cell)
        lawful = {id for id in channels if self.is_lawful(self.waterways[id].kind)}
        link = self.link_at.get(cell)
        inside = self.pipes.first_lawful(link["link_id"]) if link else None
        return lawful | {inside}

    def met(self, cell):
        """Every feature that the water of a cell meets on its whole way: waterways of reaches and structures for certain, and those
        that it may meet in cells on no reach."""
        certain, possible = set(), set()
        for on in self.walk(cell):
            if water := self.water_of[on]:
                certain.add(water)
            if (reach := self.reach_at.get(on)) is not None:
                certain |= {reach["waterway_id"], *(other["waterway_id"] for other in reach["also"])}
            elif on in self.link_at:
                certain.update(self.pipes.chain(self.link_at[on]["link_id"]))
                possible |= self.near(on)
            else:
                possible |= self.reaches_soon(on) & self.near(on)
        return certain, possible

    # Places on a path

    def places(self, cells, outlet):
        """(x, y, party) along a path to an outlet or to where water ends: centres of cells and, in structures, points about a cell
        apart."""
        places = []
        for cell, next in zip(cells, [*cells[1:], None]):
            places.append((*self.centre(cell), self.party[cell]))
            link = self.link_at.get(cell)
            if link and (next is not None or outlet == self.pipes.first_lawful(link["link_id"]) is not None):
                places += [(x, y, self.party[self.at(x, y)]) for x, y in self.pipes.places(link["link_id"])]
        return places
