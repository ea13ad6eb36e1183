"""The count of a petition once more, simple and slow: from the lands that an area holds, their owners, who signed, and the
tests of a rule profile.

It shares no code and no method with the program. Areas are cut by shapely; hectares are whole square metres and fractions
exact, so that no count hangs on rounding. Heads are lists of sets of names; the smallest sets of signatures are found by trying
every set of owners, the small ones first. The tests are those of the profiles; how heads and hectares are reckoned from owners,
co-owners and road authorities is our reading of them, as the guide states it.
"""

import itertools
import math
import tomllib
from dataclasses import dataclass, field
from fractions import Fraction

import shapely

import spellings

SQUARE_METRES_PER_HECTARE = 10_000
# Our choice: what is narrower is the noise of the files' coordinates.
NOISE_M = 0.05
READINGS = {True: "with_roads", False: "without_roads"}


# Lands


@dataclass(frozen=True)
class Land:
    """What an area holds of a parcel or a road."""

    id: str
    kind: str
    """`parcel` or `road`"""
    owners: frozenset
    """Names; none where nobody can sign for it."""
    square_metres: int

    @property
    def is_road(self):
        return self.kind == "road"


def names(*texts):
    """Each owner once, of the texts of a parcel's fields."""
    parts = [part.strip() for text in texts if text for part in text.split(";")]
    return frozenset(part for part in parts if part)


def surfaces(geometry):
    """Without the points and lines along which two polygons touch."""
    return shapely.MultiPolygon([part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon"])


def width_m(shape):
    """For a long strip, its width."""
    return 2.0 * shape.area / shape.length if shape.length else 0.0


def inside(polygon, area):
    return surfaces(shapely.intersection(polygon, area))


def outside(polygon, area):
    return surfaces(shapely.difference(polygon, area))


def only_touches(polygon, area):
    return width_m(inside(polygon, area)) < NOISE_M


def is_partly_inside(polygon, area):
    return width_m(outside(polygon, area)) >= NOISE_M


# Rules


@dataclass(frozen=True)
class Condition:
    of: str
    heads: str | None
    comparison: str
    """`more_than`, `at_least` or `count`"""
    value: Fraction

    @property
    def is_of_heads(self):
        return self.heads is not None


@dataclass(frozen=True)
class Test:
    id: str
    withdrawals: str
    all_of: tuple

    @property
    def has_two_readings(self):
        return any(condition.of == "land_and_perhaps_roads" for condition in self.all_of)


class Rules:
    """What a profile's text says of petitions, or of remonstrances."""

    def __init__(self, text, remonstrance=False):
        profile = tomllib.loads(text, parse_float=Fraction)
        petition = profile.get("petition", {})
        tests = profile.get("remonstrance", {}) if remonstrance else petition
        self.tests = [test_of(table) for table in tests.get("test", [])]
        self.officers = set() if remonstrance else {officer["id"] for officer in petition.get("officer", [])}
        sliver = petition.get("sliver_ha")
        self.sliver_square_metres = Fraction(sliver["value"]) * SQUARE_METRES_PER_HECTARE if sliver else 0


def test_of(table):
    return Test(table["id"], table.get("withdrawals", "counted"), tuple(map(condition_of, table["all_of"])))


def condition_of(table):
    comparison = next(word for word in ("more_than", "at_least", "count") if word in table)
    return Condition(table["of"], table.get("heads"), comparison, Fraction(table[comparison]))


# Signatures


@dataclass(frozen=True)
class Signatures:
    signed: frozenset
    """Persons, without those who withdrew."""
    ever: frozenset
    """Persons, those who withdrew among them."""
    officers: frozenset = frozenset()

    def with_further(self, people):
        return Signatures(self.signed | people, self.ever | people, self.officers)

    def without(self, people):
        return Signatures(self.signed - people, self.ever, self.officers)


@dataclass
class Given:
    """What the command is given: a list of ids or the rows of a file, then what is added and withdrawn."""

    ids: list = field(default_factory=list)
    rows: list = field(default_factory=list)
    """With `parcel`, `owner` and `withdrawn`, each possibly empty."""
    add: list = field(default_factory=list)
    withdraw: list = field(default_factory=list)


@dataclass
class Register:
    """Whose each parcel and road of the whole case is, and the officers of the profile."""

    parcels: dict
    roads: dict
    officers: set

    def signers(self, text):
        """The persons, and the officers, that an id or a name stands for."""
        if text in self.parcels:
            return self.parcels[text], frozenset()
        if text in self.roads:
            return self.roads[text], frozenset()
        if text in self.officers - {"road_authority"}:
            return frozenset(), frozenset([text])
        return frozenset([text]), frozenset()

    def of_row(self, row):
        return frozenset([row["owner"]]) if row["owner"] else self.parcels[row["parcel"]]

    def together(self, texts):
        found = [self.signers(text) for text in texts]
        return frozenset().union(*(people for people, _ in found)), frozenset().union(*(officers for _, officers in found))


def signatures(given, register):
    people, officers = register.together(given.ids)
    of_rows = frozenset().union(*(register.of_row(row) for row in given.rows))
    withdrawn_rows = frozenset().union(*(register.of_row(row) for row in given.rows if row["withdrawn"]))
    added, officers_added = register.together(given.add)
    withdrawn, officers_withdrawn = register.together(given.withdraw)
    filed = (people | of_rows) - withdrawn_rows
    return Signatures((filed | added) - withdrawn, people | of_rows | added, (officers | officers_added) - officers_withdrawn)


# The count


def owners_of_heads(lands, condition):
    """For each head who must sign for it; empty for a head that nobody can sign for."""
    parcels = [land for land in lands if not land.is_road]
    authorities = authority_heads(lands) if condition.of == "owners_and_road_authorities" else []
    unowned = [frozenset() for land in parcels if not land.owners]
    if condition.heads == "parcel":
        return [land.owners for land in parcels] + authorities
    if condition.heads == "record_owner":
        people = {frozenset([owner]) for land in parcels for owner in land.owners}
        return sorted(people | set(authorities), key=sorted) + unowned
    assert condition.heads == "ownership_unit", condition.heads
    return sorted({land.owners for land in parcels if land.owners} | set(authorities), key=sorted) + unowned


def authority_heads(lands):
    """One for each, of however many roads."""
    return sorted({land.owners for land in lands if land.is_road}, key=sorted)


def counts_roads(condition, with_roads):
    if condition.of == "land_and_perhaps_roads":
        return with_roads
    return condition.of in ("land_and_roads", "owners_and_road_authorities")


def weighed(lands, condition, with_roads):
    """(who must sign, heads or square metres) of all that a condition counts."""
    if condition.is_of_heads:
        return [(owners, 1) for owners in owners_of_heads(lands, condition)]
    return [(land.owners, land.square_metres) for land in lands if not land.is_road or counts_roads(condition, with_roads)]


def is_signed(owners, signed):
    return bool(owners) and owners <= signed


def signers(test, given):
    return given.ever if test.withdrawals == "ignored" else given.signed


def needed(condition, total):
    """The least that meets the condition; of nothing, nothing is enough (our choice)."""
    if condition.comparison == "count":
        return max(1, int(condition.value))
    if condition.comparison == "more_than":
        return math.floor(condition.value * total) + 1
    return max(1, math.ceil(condition.value * total))


def all_met(conditions):
    return all(conditions)


@dataclass(frozen=True)
class Row:
    """One condition in one reading."""

    test: str
    of: str
    heads: str | None
    roads: bool
    have: int
    total: int
    needed: int

    @property
    def met(self):
        return self.have >= self.needed


class Count:
    """All that can be asked of some lands under some rules."""

    def __init__(self, lands, rules):
        self.lands, self.rules = lands, rules
        self.weighed = {
            (condition, with_roads): weighed(lands, condition, with_roads)
            for test in rules.tests
            for condition in test.all_of
            for with_roads in READINGS
        }

    def row(self, test, condition, with_roads, given):
        items, signed = self.weighed[condition, with_roads], signers(test, given)
        have = sum(weight for owners, weight in items if is_signed(owners, signed))
        total = sum(weight for _, weight in items)
        roads = counts_roads(condition, with_roads)
        return Row(test.id, condition.of, condition.heads, roads, have, total, needed(condition, total))

    def rows(self, given):
        """A condition that leaves the reading open has a row for each."""
        for test in self.rules.tests:
            for condition in test.all_of:
                for with_roads in (True, False) if condition.of == "land_and_perhaps_roads" else (True,):
                    yield condition, self.row(test, condition, with_roads, given)

    def is_met(self, test, with_roads, given):
        return all_met(self.row(test, condition, with_roads, given).met for condition in test.all_of)

    def is_valid(self, with_roads, given):
        return any(self.is_met(test, with_roads, given) for test in self.rules.tests)

    def is_valid_either_way(self, given):
        return all(self.readings(given))

    def people(self):
        return sorted(frozenset().union(*(land.owners for land in self.lands)))

    def standing(self, given):
        """Without regard to what is doubtful in the data."""
        if self.is_valid_either_way(given):
            return "valid"
        if any(self.readings(given)) or officer_signed(self, given):
            return "depends_on_roads"
        return "not_valid"

    def readings(self, given):
        return [self.is_valid(with_roads, given) for with_roads in READINGS]

    def tips(self, person, given):
        """Whether this one signature, given or withdrawn, changes valid to not valid or back in a reading."""
        changed = given.without({person}) if person in given.signed else given.with_further({person})
        return self.readings(changed) != self.readings(given)


def officer_signed(count, given):
    road_authority = any(is_signed(land.owners, given.signed) for land in count.lands if land.is_road)
    return bool(given.officers) or ("road_authority" in count.rules.officers and road_authority)


def verdict(lands, given, rules):
    if not rules.tests:
        return "undecided"
    found = Count(lands, rules).standing(given)
    doubts = [(without_unowned(lands), given), spelled_as_one(lands, given)]
    if any(Count(other, rules).standing(signatures) != found for other, signatures in doubts):
        return "undecided"
    return found


def without_unowned(lands):
    return [land for land in lands if land.owners]


def spelled_as_one(lands, given):
    """Names of owners inside that look like one are one, who has signed where one of them has."""
    kept = spellings.taken_as_one(frozenset().union(*(land.owners for land in lands)))

    def one(people):
        return frozenset(kept.get(name, name) for name in people)

    lands = [Land(land.id, land.kind, one(land.owners), land.square_metres) for land in lands]
    return lands, Signatures(one(given.signed), one(given.ever), given.officers)


def smallest(people, works):
    """How many of these people it takes, at least; none where not even all do."""
    for size in range(len(people) + 1):
        if any(works(frozenset(some)) for some in itertools.combinations(people, size)):
            return size
    return None


def without_slivers(lands, partly, given, rules):
    """Plain verdict, owners and parcels left out: those of which the area holds a small part; none where there is none."""
    small = [land for land in lands if is_sliver(land, partly, rules)]
    if not small:
        return None
    rest = [land for land in lands if land not in small]
    gone = frozenset().union(*(land.owners for land in small)).difference(*(land.owners for land in rest))
    return Count(rest, rules).standing(given), gone, sorted(land.id for land in small)


def is_sliver(land, partly, rules):
    return not land.is_road and land.id in partly and land.square_metres < rules.sliver_square_metres


def fringe(lands, partly, given, rules):
    """Plain verdict without each parcel that is only partly inside, by its id."""
    return {id: Count(left_out(lands, id), rules).standing(given) for id in partly}


def left_out(lands, parcel):
    return [land for land in lands if land.is_road or land.id != parcel]
