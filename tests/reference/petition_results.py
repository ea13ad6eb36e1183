"""The command `petition` run on a case, and what it wrote against the second count.

The hectares of each land are measured by shapely; then all is counted once more on the hectares as they are printed, so that a
tally is the same to the last head and the last square metre.
"""

import json
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import petition_cases
import petition_count
import program
from petition_count import SQUARE_METRES_PER_HECTARE, Land

# Half of the last printed digit of hectares.
ROUNDING_SQUARE_METRES = 0.5
# Of a vertex, by being written and reprojected.
VERTEX_M = 1e-5
SIZES = {None: "nobody's", 0: "0", 1: "1", 2: "2", 3: "3"}
NOTHING_INSIDE = "nothing inside"
# Below it a strip may be lost in the reprojection.
NOTED_STRIP_M = 0.005


@dataclass
class Outcome:
    case: petition_cases.PetitionCase
    out: Path
    count: dict
    """`petition.json`"""
    lands: dict
    """The properties of `petition.geojson` by kind and id."""


def run(case, folder, *further):
    """Writes the case into a folder and runs the command on it."""
    file, arguments = petition_cases.write(case, folder)
    return run_written(case, file, [*arguments, *further])


def run_written(case, file, arguments):
    out = file.parent / "out"
    program.run("petition", file, *arguments, "--out", out, "--quiet")
    features = json.loads((out / "petition.geojson").read_text())["features"]
    lands = {}
    for found in (feature["properties"] for feature in features):
        parcel, road = found.get("parcel_id"), found.get("road_id")
        assert (parcel is None) != (road is None), f"{out}: a land that is not one of parcel and road: {found}"
        key = ("road", road) if parcel is None else ("parcel", parcel)
        assert key not in lands, f"{out}: {key} twice"
        lands[key] = found
    return Outcome(case, out, json.loads((out / "petition.json").read_text()), lands)


def square_metres(hectares):
    """Of a number with four decimals."""
    exact = hectares * SQUARE_METRES_PER_HECTARE
    assert abs(exact - round(exact)) < 1e-4, f"{hectares} ha has more than four decimals"
    return round(exact)


def lands_as_printed(outcome):
    """The lands inside, with the hectares that the program printed and the owners of the case."""
    owners = outcome.case.owners_of()
    return [Land(id, kind, owners[kind, id], square_metres(found["inside_ha"])) for (kind, id), found in outcome.lands.items()]


class Comparison:
    """All differences on one case, as text."""

    def __init__(self, outcome, seen=None):
        self.case, self.found, self.reported = outcome.case, outcome.count, outcome.lands
        self.seen = Counter() if seen is None else seen
        self.differing = []
        self.areas()
        if self.differing:
            return
        self.rules, self.given = self.case.rules(), self.case.signatures()
        self.lands = lands_as_printed(outcome)
        self.count = petition_count.Count(self.lands, self.rules)
        self.people = self.count.people()
        self.verdicts()
        self.rows()
        self.smallest_sets()
        self.of_lands()
        self.small_and_partial_lands()
        self.notes()
        self.observe()

    def check(self, what, found, expected):
        if found != expected:
            self.differing.append(f"{self.case.name}, {what}: {found}, expected {expected}")

    def areas(self):
        area, lands = self.case.whole_area(), self.case.polygons()
        held = {land: petition_count.inside(polygon, area) for land, polygon in lands.items()}
        expected = {land for land, polygon in lands.items() if not petition_count.only_touches(polygon, area)}
        self.check("lands inside", sorted(self.reported), sorted(expected))
        for land in expected & self.reported.keys():
            off = abs(self.reported[land]["inside_ha"] * SQUARE_METRES_PER_HECTARE - held[land].area)
            near = off <= ROUNDING_SQUARE_METRES + VERTEX_M * held[land].length
            self.check(f"inside_ha of {land}, {held[land].area / SQUARE_METRES_PER_HECTARE:.6f} ha", near, True)
        roads = sum(held[land].area for land in expected if land[0] == "road")
        for name, measured in (("area_ha", area.area), ("road_ha", roads)):
            off = abs(self.found[name] * SQUARE_METRES_PER_HECTARE - measured)
            near = off <= ROUNDING_SQUARE_METRES * len(lands) + VERTEX_M * area.length
            self.check(f"{name} {self.found[name]}, {measured / SQUARE_METRES_PER_HECTARE:.6f} ha", near, True)

    def verdicts(self):
        self.check("verdict", self.found["verdict"], petition_count.verdict(self.lands, self.given, self.rules))
        for with_roads, name in petition_count.READINGS.items():
            expected = None
            if self.rules.tests:
                expected = "valid" if self.count.is_valid(with_roads, self.given) else "not_valid"
            self.check(name, self.found[name], expected)

    def rows(self):
        expected = [row_of(condition, row) for condition, row in self.count.rows(self.given)]
        found = [read_row(row) for row in self.found["tests"]]
        self.check("how many rows of tests", len(found), len(expected))
        for number, (row, other) in enumerate(zip(found, expected, strict=False), 1):
            self.check(f"row {number} of tests", row, other)

    def smallest_sets(self):
        if not self.rules.tests:
            return
        valid = self.count.is_valid_either_way
        self.smallest("smallest_to_pass", self.found["smallest_to_pass"], self.further(valid))
        self.smallest("smallest_to_break", self.found["smallest_to_break"], self.fewer(valid))
        rows = {(row["test"], row["roads"]): row for row in self.found["by_test"]}
        self.check("each test once in by_test", len(rows), len(self.found["by_test"]))
        left = set(rows)
        for test in self.rules.tests:
            for with_roads, word in ((True, "counted"), (False, "not_counted")):
                name = (test.id, word) if test.has_two_readings and (test.id, word) in rows else (test.id, "same")
                left.discard(name)
                if name not in rows:
                    self.check("by_test", sorted(rows), name)
                    continue
                self.of_test(rows[name], test, with_roads)
        self.check("further rows of by_test", left, set())

    def of_test(self, row, test, with_roads):
        def met(given):
            return self.count.is_met(test, with_roads, given)

        name = f"by_test {test.id} {petition_count.READINGS[with_roads]}"
        self.check(f"{name}, met", row["met"], met(self.given))
        self.smallest(f"{name}, to_pass", row["to_pass"], self.further(met))
        self.smallest(f"{name}, to_break", row["to_break"], self.fewer(met))

    def further(self, holds):
        """Who may sign, and whether it then holds."""
        return sorted(set(self.people) - self.given.signed), lambda people: holds(self.given.with_further(people))

    def fewer(self, holds):
        """Who may withdraw, and whether it then holds no longer; nobody where it does not hold to begin with."""
        signed = sorted(self.given.signed & set(self.people))
        if not holds(self.given):
            return signed, lambda people: False
        return signed, lambda people: not holds(self.given.without(people))

    def smallest(self, name, found, question):
        people, works = question
        size = petition_count.smallest(people, works)
        self.seen[f"smallest sets of {SIZES.get(size, '4 and more')}"] += 1
        self.check(f"{name}, how many", found and found["count"], size)
        if found:
            chosen = found["owners"]
            self.check(f"{name}, names for the count", (len(chosen), len(set(chosen))), (found["count"], found["count"]))
            self.check(f"{name}, people who can do so", sorted(set(chosen) - set(people)), [])
            self.check(f"{name}, whether {chosen} do so", works(frozenset(chosen)), True)
            self.check(f"{name}, whether so few owners are tried to the end", found["proven"], True)

    def of_lands(self):
        for land in self.lands:
            found = self.reported[land.kind, land.id]
            signed = petition_count.is_signed(land.owners, self.given.signed)
            self.check(f"owner of {land.id}", petition_count.names(found["owner"]), land.owners)
            self.check(f"whether {land.kind} {land.id} is signed for", found["signed"], signed)
            tips = any(self.count.tips(owner, self.given) for owner in land.owners)
            self.check(f"whether {land.kind} {land.id} tips", found["tips"], tips)

    def small_and_partial_lands(self):
        """A profile that knows no petition has nothing that could change."""
        if not self.rules.tests:
            self.check("without_slivers and fringe", (self.found["without_slivers"], self.found["fringe"]), (None, []))
            return
        area = self.case.whole_area()
        parcels = [land.id for land in self.lands if not land.is_road]
        partly = [id for id in parcels if petition_count.is_partly_inside(self.case.parcels[id], area)]
        expected = petition_count.without_slivers(self.lands, partly, self.given, self.rules)
        found = self.found["without_slivers"]
        if found is not None:
            found = found["verdict"], frozenset(found["owners_left_out"]), sorted(found["lands_left_out"])
        self.check("without_slivers", found, expected)
        expected = petition_count.fringe(self.lands, partly, self.given, self.rules)
        self.check("fringe", {row["parcel_id"]: row["verdict"] for row in self.found["fringe"]}, expected)
        for row in self.found["fringe"]:
            self.check("inside_ha in fringe", row["inside_ha"], self.reported["parcel", row["parcel_id"]]["inside_ha"])
        self.seen["parcels partly inside"] += len(partly)
        self.seen["cases with slivers left out"] += found is not None
        self.seen["verdicts that a parcel left out changes"] += sum(word != self.found["verdict"] for word in expected.values())

    def notes(self):
        """People who signed and own nothing inside are named, or what they signed for, and lands that the area touches in a
        strip that can be measured."""
        notes = self.found["notes"]
        for person, texts in self.case.signed_by().items():
            if person not in self.people:
                noted = any(text in note and NOTHING_INSIDE in note for text in texts for note in notes)
                self.check(f"a note about {person} ({', '.join(sorted(texts))}), who owns nothing inside", noted, True)
        area = self.case.whole_area()
        for (kind, id), polygon in self.case.polygons().items():
            strip = petition_count.inside(polygon, area)
            if petition_count.only_touches(polygon, area) and petition_count.width_m(strip) > NOTED_STRIP_M:
                self.seen["lands that are only touched"] += 1
                self.check(f"a note about {kind} {id}, which is only touched", any(id in note for note in notes), True)

    def observe(self):
        self.seen[f"cases {self.found['verdict']}"] += 1
        self.seen["lands inside"] += len(self.lands)
        self.seen["lands that tip"] += sum(land["tips"] for land in self.reported.values())
        self.seen["rows of tests"] += len(self.found["tests"])
        self.seen["cases of a remonstrance"] += self.case.remonstrance


def row_of(condition, row):
    """A row as the count has it, to be compared."""
    is_heads = condition.is_of_heads
    fraction = None if condition.comparison == "count" else condition.value
    return {
        "test": row.test,
        "measure": "heads" if is_heads else "hectares",
        "counted_of": row.of,
        "heads": row.heads,
        "roads": "counted" if row.roads else "not_counted",
        "have": row.have,
        "of": row.total,
        "needed": row.needed,
        "distance": row.have - row.needed,
        "met": row.met,
        "comparison": condition.comparison,
        "fraction": fraction,
    }


def read_row(row):
    """The same of a row as printed: heads as they are, hectares in whole square metres."""
    found = {name: row[name] for name in ("test", "measure", "counted_of", "heads", "roads", "met", "comparison")}
    whole = square_metres if row["measure"] == "hectares" else int
    for name in ("have", "of", "needed", "distance"):
        found[name] = whole(row[name])
    return found | {"fraction": row["fraction"] and Fraction(row["fraction"])}


def differences(outcome, seen=None):
    return Comparison(outcome, seen).differing
