"""The outlet finding of every parcel once more, simple and slow: walk every cell, every parcel, every rule.

It starts from the layers of a small case, from the exported directions and links, which other checks measure, and from the rules of
the profile. It shares no code and no method with the program: no flow forest, no labels spread upstream, no graph; every answer is a
walk from a cell to where its water ends. Everything is counted in cells; hectares come last.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

import flow
import small_cases
from road_lands import UNOWNED, road_lands
from second_courses import Courses

SMALL_FRACTION, SMALL_HA = 0.02, 0.05
HECTARES_PER_CELL = small_cases.HECTARES_PER_CELL
# Stated in the design as our choice.
CORNER_CELLS = 3
SAMPLED_M = 1.0
ROUNDING_HA = 1e-9


@dataclass
class Share:
    cells: int
    leaving: int
    outlet: str | None
    is_remainder: bool


class Worked:
    """One case worked out. `links` are the features of the exported structures."""

    def __init__(self, case, direction, links, profile):
        self.case, self.profile = case, profile
        self.rows, self.cols = direction.shape
        self.direction = direction.ravel()
        self.has_data = self.direction != flow.NODATA
        self.receiver = flow.receivers(direction, links)
        self.cells = [int(cell) for cell in np.flatnonzero(self.has_data)]
        self.paths = {cell: self.walk(cell) for cell in self.cells}
        self.area = Counter(cell for path in self.paths.values() for cell in path)
        self.roads = road_lands(case.roads)
        self.party = self.parties()
        self.kind = {way.id: way.kind for way in case.waterways} | {
            link["properties"]["link_id"]: link["properties"]["class"] for link in links
        }
        self.waters = small_cases.waters_of(case, profile.kinds)
        self.link_at = {self.index(link["properties"]["inlet_cell"]): link["properties"] for link in links}
        self.courses = Courses(self, self.channel_cells())
        self.waterway_at = self.waterways()
        self.ends = {cell: self.end(cell) for cell in self.cells if self.direction[cell] == flow.ENDS_HERE}

    def index(self, col_row):
        return col_row[1] * self.cols + col_row[0]

    def centre(self, cell):
        """In cells east and north of the south-west corner."""
        return cell % self.cols + 0.5, self.rows - cell // self.cols - 0.5

    def walk(self, cell):
        path = [cell]
        while self.receiver[path[-1]] >= 0:
            path.append(int(self.receiver[path[-1]]))
            assert len(path) <= self.direction.size, f"a path from cell {cell} runs in a circle"
        return path

    def around(self, cell):
        row, col = divmod(cell, self.cols)
        return [
            r * self.cols + c
            for r in range(max(row - 1, 0), min(row + 2, self.rows))
            for c in range(max(col - 1, 0), min(col + 2, self.cols))
            if (r, c) != (row, col)
        ]

    def end(self, cell):
        """At the outer edge, at a hole that data surround, in a lake without an outlet, or in a kept depression."""
        around = self.around(cell)
        missing, _ = ndimage.label(~self.has_data.reshape(self.rows, self.cols), np.ones((3, 3)))
        at_edge = {*missing[0], *missing[-1], *missing[:, 0], *missing[:, -1]} - {0}
        beside = {missing.ravel()[next] for next in around} - {0}
        if len(around) < 8 or beside & at_edge:
            return "edge"
        if beside:
            return "hole"
        return "closed_lake" if self.waters.of.ravel()[cell] in self.waters.lakes else "kept_depression"

    def parties(self):
        """Parcels in the order of their ids, then roads in the order of theirs, then nobody. Lot lines never pass through a centre."""
        names = {}
        for cell in range(self.direction.size):
            point = shapely.Point(self.centre(cell))
            holders = [id for id, polygon in sorted(self.case.parcels.items()) if polygon.contains(point)]
            holders += [road for road, land in self.roads.items() if land.polygon.contains(point)]
            names[cell] = holders[0] if holders else UNOWNED
        return names

    def waterways(self):
        """Whose channel each cell is. Then a waterway that runs through a corner of another one, and back, has that corner; not where a
        structure carries the water there, within it or away, since water in a structure is out of its channel. What lies in a
        polygon is the polygon's, whatever lines run through it."""
        owner = self.owners_of_lines()
        for cell in sorted(owner, key=lambda cell: (self.area[cell], cell)):
            donors = [donor for donor in owner if self.receiver[donor] == cell]
            if not donors:
                continue
            donor = max(donors, key=lambda donor: (self.area[donor], donor))
            through, own = owner[donor], owner[cell]
            corner = [cell]
            while (next := int(self.receiver[corner[-1]])) >= 0 and owner.get(next) == own:
                corner.append(next)
            is_carried = any(on in self.link_at for on in (donor, *corner))
            if through != own and len(corner) <= CORNER_CELLS and not is_carried and owner.get(next) == through:
                owner.update(dict.fromkeys(corner, through))
        in_polygons = {cell: id for cell, id in enumerate(self.waters.of.ravel()) if id and self.has_data.ravel()[cell]}
        return owner | in_polygons

    def owners_of_lines(self):
        """Where lines of several waterways share a cell it is, in this order, of one whose line has cells of its own farther down, of
        one along whose line the water goes on, of a lawful one, of the one with most land above the shared cells, of the lower cell
        there, of the first by its id. Where all of them end in the same cell, which is that of another, it is of that one."""
        has_data = self.has_data.ravel()
        lines = sorted((way for way in self.case.waterways if not way.polygons), key=lambda way: way.id)
        chains = [(way, [cell for cell in self.thin_chain(way) if has_data[cell]]) for way in lines]
        passing = {}
        for way, chain in chains:
            for cell in chain:
                passing.setdefault(cell, set()).add(way.id)
        shared = {cell for cell, ids in passing.items() if len(ids) > 1}
        claims = {}
        for number, (way, chain) in enumerate(chains):
            own = [at for at, cell in enumerate(chain) if cell not in shared]
            for at, cell in enumerate(chain):
                above = [chain[before] for before in own if before < at][-1:]
                ends = bool(above) and not any(after >= at for after in own)
                goes_on = chain[at + 1 : at + 2] == [self.receiver[cell]]
                land = -self.area[above[0]] if above else 0
                rank = ends, not goes_on, not self.profile.is_lawful(way.kind), land, above, number
                claims.setdefault(cell, []).append((rank, way.id, chain[-1]))
        owner = {cell: min(of_cell)[1] for cell, of_cell in claims.items()}
        for cell in sorted(shared):
            ends = {end for _, _, end in claims[cell]}
            if len(ends) == 1 and all(rank[0] for rank, _, _ in claims[cell]):
                onward = owner[ends.pop()]
                if onward not in passing[cell]:
                    owner[cell] = onward
        return owner

    def thin_chain(self, way):
        return thinned([row * self.cols + col for row, col in way.cells], self.cols)

    def channel_cells(self):
        """Cells of lines as thinned, and of polygons."""
        lines = [way for way in self.case.waterways if not way.polygons]
        chains = [self.thin_chain(way) for way in lines]
        in_polygons = {cell for cell, id in enumerate(self.waters.of.ravel()) if id}
        return {cell for chain in chains for cell in chain} | in_polygons

    def lawful_at(self, cell):
        """Ids of the lawful outlets that water meets in a cell: its channel, then the structure that takes it in."""
        link = self.link_at.get(cell)
        met = [self.waterway_at.get(cell), *(self.courses.chain(link["link_id"]) if link else [])]
        return [id for id in met if id is not None and self.profile.is_lawful(self.kind[id])]

    def carried_on(self, cell):
        """The structure by which a path goes on from a cell, unless it meets its outlet in the cell itself."""
        link, met = self.link_at.get(cell), self.lawful_at(cell)
        if link is None or self.receiver[cell] < 0 or met and met[0] in (self.waterway_at.get(cell), link["link_id"]):
            return None
        return link["link_id"]

    def outlets(self, cell):
        """All lawful outlets on the way from a cell, in order, each once."""
        return list(dict.fromkeys(id for on in self.paths[cell] for id in self.lawful_at(on)))

    # Counting

    def contributions(self, parcel):
        """Own cells, and others' cells whose path touches the parcel, by party."""
        own = [cell for cell in self.cells if self.party[cell] == parcel]
        received = Counter(
            self.party[cell]
            for cell, path in self.paths.items()
            if self.party[cell] != parcel and any(self.party[on] == parcel for on in path)
        )
        return len(own), received

    def stop(self, cell):
        """Where water of a cell first leaves its party's land or first meets a lawful outlet on it."""
        for on in self.paths[cell]:
            next = self.receiver[on]
            if self.lawful_at(on) or next < 0 or self.party[int(next)] != self.party[cell]:
                return on

    def shares(self, parcel):
        """Largest first, the remainder last."""
        counts = Counter(self.stop(cell) for cell in self.cells if self.party[cell] == parcel)
        keys = {stop: self.key(stop) for stop in counts}
        groups, left = [], set(counts)
        while left:
            group, open = [], [left.pop()]
            while open:
                stop = open.pop()
                group.append(stop)
                beside = [next for next in self.around(stop) if next in left and keys[next] == keys[stop]]
                left.difference_update(beside)
                open.extend(beside)
            leaving = min(group, key=lambda stop: (-counts[stop], stop))
            groups.append((sum(counts[stop] for stop in group), leaving))
        groups.sort(key=lambda group: (-group[0], group[1]))
        own = sum(counts.values())
        shares, remainder = [], 0
        for cells, leaving in groups:
            outlet = (self.outlets(leaving) or [None])[0]
            if cells < SMALL_FRACTION * own and cells * HECTARES_PER_CELL < SMALL_HA:
                if remainder == 0:
                    first = leaving, outlet
                remainder += cells
            else:
                shares.append(Share(cells, leaving, outlet, False))
        if remainder:
            shares.append(Share(remainder, *first, True))
        return shares

    def key(self, stop):
        """Who takes the water, and where it is bound for: adjacent stops with the same key leave together."""
        lawful = self.lawful_at(stop)
        next = int(self.receiver[stop])
        taker = ("outlet", lawful[0]) if lawful else ("land", self.party[next]) if next >= 0 else None
        outlets = self.outlets(stop)
        return taker, outlets[0] if outlets else self.ends[self.paths[stop][-1]]

    # The way down

    def way(self, leaving):
        """Metres to the first lawful outlet or to where water ends, and [party, metres, metres by what carries the water] of each
        land on the way, the first of them the land it leaves; the last where the water ends, unless an outlet takes it there. The
        lands above a structure are listed at points about a cell apart."""
        points = []
        for cell in self.paths[leaving]:
            points.append((self.centre(cell), self.party[cell], self.carried_on(cell) or self.waterway_at.get(cell)))
            if (structure := self.carried_on(cell)) is not None:
                points += self.courses.inside(structure)
            if self.lawful_at(cell):
                break
        lands, metres = [], 0.0
        for (here, party, carrier), (next, *_) in zip(points, points[1:]):
            step = float(np.hypot(next[0] - here[0], next[1] - here[1])) * small_cases.CELL_M
            metres += step
            if not lands or lands[-1][0] != party:
                lands.append([party, 0.0, Counter()])
            lands[-1][1] += step
            lands[-1][2][carrier] += step
        last = self.party[cell]
        if not self.lawful_at(cell) and lands and lands[-1][0] != last:
            lands.append([last, 0.0, Counter({points[-1][2]: 0.0})])
        return metres, lands

    def party_at(self, x, y):
        return self.party[int(self.rows - y) * self.cols + int(x)]

    def crossed_by(self, feature):
        """Parcels on which a waterway drawn as a line runs for more than the accuracy of boundaries."""
        way = next((way for way in self.case.waterways if way.id == feature and not way.polygons), None)
        if way is None:
            return []
        line = small_cases.line(way.cells, self.rows)
        least = small_cases.ACCURACY_M / small_cases.CELL_M
        return [id for id, polygon in self.case.parcels.items() if polygon.intersection(line).length > least]

    # The rules

    def touches(self, parcel, feature):
        """Whether a stretch of the feature lies on the parcel; `None` where no more than a point does, or so little that it
        cannot be distinguished from one: the program measures frontage at every metre."""
        lines, polygon = self.lines(feature), self.case.parcels[parcel]
        if self.in_water(parcel, feature):
            return True
        near = small_cases.TOLERANCE_M / small_cases.CELL_M
        on_it = sum(polygon.intersection(line).length for line in lines)
        if on_it > 2.0 * near + SAMPLED_M / small_cases.CELL_M:
            return True
        return None if min(polygon.distance(line) for line in lines) <= 2.0 * near else False

    def in_water(self, parcel, feature):
        """The parts of a parcel that lie wholly in a water."""
        polygons = [polygon for way in self.case.waterways if way.id == feature for polygon in way.polygons]
        water = shapely.union_all(polygons)
        return [part for part in shapely.get_parts(self.case.parcels[parcel]) if water.contains(part)]

    def lines(self, feature):
        """Its lines, or the shores of a lake or river."""
        ways = [way for way in self.case.waterways if way.id == feature]
        lines = [small_cases.line(way.cells, self.rows) for way in ways if not way.polygons]
        lines += [shapely.union_all(way.polygons).boundary for way in ways if way.polygons]
        for link in self.link_at.values():
            if link["link_id"] == feature:
                lines.append(self.courses.course(feature))
        return lines

    def frontage(self, parcel, feature):
        """Length in metres of a feature on a parcel or no farther from it than the tolerance, and the lowest ground along it: well
        inside the parcel, and where the tolerance and the spacing of samples may reach beside it. Of a part of the parcel that lies
        wholly in a water, the outline is measured."""
        tolerance = small_cases.TOLERANCE_M / small_cases.CELL_M
        length, lowest = 0.0, []
        sampled = SAMPLED_M / small_cases.CELL_M
        outlines = [part.boundary for part in self.in_water(parcel, feature)]
        for beyond in (-sampled, tolerance, tolerance + sampled):
            polygon = self.case.parcels[parcel].buffer(beyond)
            on_it = shapely.union_all([*outlines, *(polygon.intersection(line) for line in self.lines(feature))])
            length = on_it.length * small_cases.CELL_M if beyond == tolerance else length
            lowest.append(self.lowest_along(on_it, max(beyond, 0.0)))
        return length, lowest[0], lowest[-1]

    def lowest_along(self, lines, around):
        """Of the ground at points of the lines and `around` them: a line may run along the border of two cells."""
        spacing = SAMPLED_M / small_cases.CELL_M / 4.0
        parts = [part for part in shapely.get_parts(lines) if not part.is_empty]
        points = [line.interpolate(at) for line in parts for at in np.arange(0.0, line.length + spacing, spacing)]
        places = [(point.x + east, point.y + north) for point in points for east in (-around, around) for north in (-around, around)]
        last = self.cols - 1, self.rows - 1
        cells = [(min(max(int(x), 0), last[0]), min(max(int(self.rows - y), 0), last[1])) for x, y in places]
        ground = [self.ground(self.index(cell)) for cell in cells]
        return min((height for height in ground if not np.isnan(height)), default=np.inf)

    def ground(self, cell):
        """To the millimetre, as levels are compared."""
        return round(float(self.waters.surveyed.ravel()[cell]), 3)

    def undecided_as_a_whole(self, parcel, shares):
        polygon = self.case.parcels[parcel]
        covered = [cell for cell, party in self.party.items() if party == parcel]
        missing = sum(not self.has_data[cell] for cell in covered) * HECTARES_PER_CELL
        area = polygon.area * HECTARES_PER_CELL
        west, south, east, north = polygon.bounds
        beyond = west < 0 or south < 0 or east > self.cols or north > self.rows
        if beyond:
            missing += max(0.0, area - len(covered) * HECTARES_PER_CELL)
        if beyond and not covered:
            return "outside_elevation_data"
        minimums = self.profile.minimums
        if missing > max(minimums["missing_elevation_ha"], minimums["missing_elevation_fraction"] * area) + ROUNDING_HA:
            return "elevation_missing"
        return None if shares else "smaller_than_a_cell"


def thinned(chain, cols):
    """A chain of cells without the corner cells that can be cut."""
    thin = []
    for cell in chain:
        while len(thin) > 1 and max(abs(thin[-2] % cols - cell % cols), abs(thin[-2] // cols - cell // cols)) <= 1:
            thin.pop()
        thin.append(cell)
    return thin
