"""Faults to plant in the second count of a petition, each by name: what the comparison with the program must notice.

Each is a function that changes one rule for as long as the given `monkeypatch` holds.
"""

import math
from dataclasses import replace

import shapely

import petition_cases
import petition_count
import spellings
from petition_count import Count, Register
from planted_faults import after

FAULTS = {}


def fault(name):
    return lambda plant: FAULTS.setdefault(name, plant)


def before(monkeypatch, name, change):
    """Calls a function of the count with its arguments changed."""
    right = getattr(petition_count, name)
    monkeypatch.setattr(petition_count, name, lambda *given: right(*change(*given)))


# What a condition asks for


@fault("a tie is a majority")
def _(monkeypatch):
    def needed(right, condition, total):
        return max(1, math.ceil(condition.value * total)) if condition.comparison == "more_than" else right

    after(monkeypatch, petition_count, "needed", needed)


@fault("what is at least asked for is not enough")
def _(monkeypatch):
    def needed(right, condition, total):
        return math.floor(condition.value * total) + 1 if condition.comparison == "at_least" else right

    after(monkeypatch, petition_count, "needed", needed)


@fault("one condition of a test is enough")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "all_met", any)


# Heads


@fault("one co-owner signs for all")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "is_signed", lambda owners, signed: bool(owners & signed))


@fault("each parcel is a head")
def _(monkeypatch):
    before(monkeypatch, "owners_of_heads", lambda lands, condition: (lands, replace(condition, heads="parcel")))


@fault("each co-owner is a head of an ownership unit")
def _(monkeypatch):
    def heads(lands, condition):
        return lands, replace(condition, heads="record_owner") if condition.heads == "ownership_unit" else condition

    before(monkeypatch, "owners_of_heads", heads)


@fault("each road of an authority is a head")
def _(monkeypatch):
    def heads(lands, condition, owners):
        roads = [land.owners for land in lands if land.is_road]
        return owners + [head for head in roads if condition.heads == "parcel" or head not in owners]

    with_authorities(monkeypatch, heads)


@fault("an authority that owns land is two heads")
def _(monkeypatch):
    with_authorities(monkeypatch, lambda lands, condition, owners: owners + petition_count.authority_heads(lands))


def with_authorities(monkeypatch, together):
    """Puts the heads of owners and of road authorities together in another way."""
    right = petition_count.owners_of_heads

    def heads(lands, condition):
        owners = right(lands, replace(condition, of="owners"))
        return owners if condition.of == "owners" else together(lands, condition, owners)

    monkeypatch.setattr(petition_count, "owners_of_heads", heads)


@fault("road authorities are no owners")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "authority_heads", lambda lands: [])


@fault("land without an owner is not counted")
def _(monkeypatch):
    before(monkeypatch, "weighed", lambda lands, *rest: (petition_count.without_unowned(lands), *rest))


# Hectares


@fault("the hectares of roads always count")
def _(monkeypatch):
    def counts_roads(right, condition, _):
        return right or condition.of == "land_and_perhaps_roads"

    after(monkeypatch, petition_count, "counts_roads", counts_roads)


@fault("the hectares of roads never count")
def _(monkeypatch):
    after(monkeypatch, petition_count, "counts_roads", lambda counts, condition, _: counts and condition.is_of_heads)


@fault("a hole in the area is filled")
def _(monkeypatch):
    def filled(area, _):
        return shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(area)])

    after(monkeypatch, petition_cases.PetitionCase, "whole_area", filled)


@fault("land that the area only touches is inside")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "NOISE_M", 0.005)


# Signatures


@fault("a withdrawal changes nothing")
def _(monkeypatch):
    after(monkeypatch, petition_count, "signatures", lambda found, *_: replace(found, signed=found.ever))


@fault("withdrawals are taken away whatever the test says")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "signers", lambda test, given: given.signed)


@fault("a parcel on the list is signed for by one of its owners alone")
def _(monkeypatch):
    after(monkeypatch, Register, "signers", lambda found, *_: (frozenset(sorted(found[0])[:1]), found[1]))
    after(monkeypatch, Register, "of_row", lambda people, *_: frozenset(sorted(people)[:1]))


@fault("an officer's signature is ignored")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "officer_signed", lambda count, given: False)


# Doubts, and what would change the verdict


@fault("land without an owner leaves nothing undecided")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "without_unowned", lambda lands: lands)


@fault("names in two spellings leave nothing undecided")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "spelled_as_one", lambda lands, given: (lands, given))


@fault("a withdrawal never tips")
def _(monkeypatch):
    after(monkeypatch, Count, "tips", lambda tips, count, person, given: tips and person not in given.signed)


@fault("a withdrawal that leaves one reading as it is does not tip")
def _(monkeypatch):
    def tips(_, count, person, given):
        changed = given.without({person}) if person in given.signed else given.with_further({person})
        return count.is_valid_either_way(changed) != count.is_valid_either_way(given)

    after(monkeypatch, Count, "tips", tips)


@fault("a name with a slip of the pen is another owner's")
def _(monkeypatch):
    monkeypatch.setattr(spellings, "is_slip", lambda first, second: False)


@fault("companies that differ by their number are one")
def _(monkeypatch):
    monkeypatch.setattr(spellings, "digits", lambda text: [])


@fault("a small parcel that lies wholly inside is a sliver")
def _(monkeypatch):
    before(monkeypatch, "is_sliver", lambda land, _, rules: (land, [land.id], rules))


@fault("a parcel left out of the area is still counted")
def _(monkeypatch):
    monkeypatch.setattr(petition_count, "left_out", lambda lands, _: lands)
