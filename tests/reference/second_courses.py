"""Where pipes run once more, for the second implementation: which pipe joins which between that one's ends, and the places along the
way of a structure's water down to where it comes to the surface.

It starts from the lines of a small case as drawn, straight from centre to centre of two cells, and from the cells of the exported
inlets and outlets. Coordinates are in cells east and north of the south-west corner.
"""

import numpy as np
import shapely

import small_cases

# Stated by the program as its choices: how far a pipe's end may lie from the line that it joins, and from the channel it belongs to.
JOINED_M = 3.0
SNAP_M, SNAP_CELLS = 3.0, 1.5


class Courses:
    def __init__(self, worked, channel):
        """`channel` are the cells that carry open water."""
        self.worked, self.channel = worked, channel
        self.inlet = {link["link_id"]: cell for cell, link in worked.link_at.items()}
        self.drawn = {way.id: small_cases.line(way.ends, worked.rows) for way in worked.case.structures if way.id in self.inlet}
        self.pipes = [way.id for way in worked.case.structures if way.id in self.inlet and way.kind != "culvert"]
        self.joins = {}
        for pipe in sorted(self.pipes):
            self.joins[pipe] = self.joined(pipe)

    def joined(self, pipe):
        """The nearest pipe on whose line a pipe ends, neither at that one's beginning nor at its end."""
        end = shapely.Point(self.drawn[pipe].coords[-1])
        if self.ends_in_channel(end):
            return None
        within = JOINED_M / small_cases.CELL_M
        near = []
        for other in sorted(self.pipes):
            at_an_end = min(end.distance(shapely.Point(point)) for point in self.drawn[other].coords) <= within
            if other != pipe and not at_an_end and end.distance(self.drawn[other]) <= within:
                near.append((end.distance(self.drawn[other]), other))
        return min(near)[1] if near else None

    def ends_in_channel(self, end):
        """A pipe whose end is moved to a channel nearby ends there."""
        reach = max(SNAP_M / small_cases.CELL_M, SNAP_CELLS)
        centres = [self.worked.centre(cell) for cell in self.channel]
        return any(np.hypot(x - end.x, y - end.y) <= reach for x, y in centres)

    def chain(self, structure):
        """A structure, and those through which its water goes before it comes to the surface."""
        chain = [structure]
        while (next := self.joins.get(chain[-1])) is not None:
            chain.append(next)
        return chain

    def lawful(self, structure):
        """The first lawful outlet that the water meets in a structure."""
        return next((on for on in self.chain(structure) if self.worked.profile.is_lawful(self.worked.kind[on])), None)

    def course(self, structure):
        """From its inlet to its own end, be it on another's line."""
        inlet = self.inlet[structure]
        if (other := self.joins.get(structure)) is None:
            end = shapely.Point(self.worked.centre(self.worked.index(self.worked.link_at[inlet]["outlet_cell"])))
        else:
            line = self.course(other)
            end = line.interpolate(line.project(shapely.Point(self.drawn[structure].coords[-1])))
        return shapely.LineString([self.worked.centre(inlet), (end.x, end.y)])

    def inside(self, structure):
        """((x, y), party, structure) of places along the way, about a cell apart and at every junction, between the inlet and where
        the water comes to the surface; where it meets a lawful outlet before, the place where it does is the last."""
        outlet, places, along = self.lawful(structure), [], 0.0
        for number, on in enumerate(self.chain(structure)):
            line = self.course(on)
            here = np.array(line.interpolate(along).coords[0])
            if number > 0:
                places.append((here, on))
            if on == outlet:
                break
            there = np.array(line.coords[-1])
            pieces = int(np.ceil(np.hypot(*(there - here))))
            places += [(here + (there - here) * piece / pieces, on) for piece in range(1, pieces)]
            if (other := self.joins.get(on)) is not None:
                along = self.course(other).project(shapely.Point(there))
        return [((x, y), self.worked.party_at(x, y), on) for (x, y), on in places]
