"""Pipes that end on the line of another one, and where the water in them runs until it comes to the surface, for the random cases.

Which pipe joins which is read from `links.geojson`; where each runs, from the case's own straight lines and the cells of its inlet and
outlet.
"""

import numpy as np
import shapely


class JoinedPipes:
    def __init__(self, walked):
        self.walked = walked
        self.drawn = {structure.id: structure.line for structure in walked.case.structures}

    def chain(self, id):
        """A structure, and those through which its water goes before it comes to the surface."""
        chain = [id]
        while (joined := self.walked.links[chain[-1]]["joins"]) is not None:
            chain.append(joined)
        return chain

    def inlets(self, id):
        """The inlet cells of all structures whose water goes through one, its own included."""
        return [self.walked.index(link["inlet_cell"]) for other, link in self.walked.links.items() if id in self.chain(other)]

    def first_lawful(self, id):
        """The first lawful outlet that the water meets in it."""
        return next((on for on in self.chain(id) if self.walked.is_lawful(self.walked.links[on]["class"])), None)

    def course(self, id):
        """From its inlet to its own end, be it on another's line."""
        link = self.walked.links[id]
        begin = self.walked.centre(self.walked.index(link["inlet_cell"]))
        if link["joins"] is None:
            return shapely.LineString([begin, self.walked.centre(self.walked.index(link["outlet_cell"]))])
        other = self.course(link["joins"])
        end = other.interpolate(other.project(shapely.Point(self.drawn[id].coords[-1])))
        return shapely.LineString([begin, (end.x, end.y)])

    def surface(self, id):
        """The cell where its water comes to the surface."""
        return self.walked.index(self.walked.links[self.chain(id)[-1]]["outlet_cell"])

    def part_to_outlet(self, id):
        """Of the way of its water to the surface, how much lies above the lawful outlet that it joins."""
        outlet, before_m, whole_m, along_m = self.first_lawful(id), None, 0.0, 0.0
        for on in self.chain(id):
            if on == outlet:
                before_m = whole_m
            line = self.course(on)
            whole_m += line.length - along_m
            if (joined := self.walked.links[on]["joins"]) is not None:
                along_m = self.course(joined).project(shapely.Point(line.coords[-1]))
        return before_m / whole_m

    def places(self, id):
        """Points along the way of its water between its inlet and where that comes to the surface, about a cell apart and at every
        junction; where it meets a lawful outlet before, the place where it does is the last."""
        outlet, places, along_m = self.first_lawful(id), [], 0.0
        for number, on in enumerate(self.chain(id)):
            line = self.course(on)
            here = np.array(line.interpolate(along_m).coords[0])
            if number > 0:
                places.append(here)
            if on == outlet:
                break
            there = np.array(line.coords[-1])
            pieces = int(np.ceil(np.hypot(*(there - here)) / self.walked.grid.least))
            places += [here + (there - here) * piece / pieces for piece in range(1, pieces)]
            if (joined := self.walked.links[on]["joins"]) is not None:
                along_m = self.course(joined).project(shapely.Point(there))
        return places
