"""Faults to plant in the second implementation, each by name: what a comparison with the program must notice.

Each is a function that changes one rule for as long as the given `monkeypatch` holds. Where a rule is a few lines within a longer
function, its result is spoilt in the same way."""

import second_implementation
import second_law
import second_piped
import second_schedules
import second_waters
from second_implementation import Worked
from second_law import Law, Path

FAULTS = {}


def fault(name):
    return lambda plant: FAULTS.setdefault(name, plant)


def after(monkeypatch, owner, name, change):
    """Calls a method and hands its result to `change`, with the arguments of the call behind."""
    right = getattr(owner, name)
    monkeypatch.setattr(owner, name, lambda *given: change(right(*given), *given))


def once_made(monkeypatch, owner, change):
    """Changes every new object of a class."""
    right = owner.__init__

    def make(self, *given):
        right(self, *given)
        change(self)

    monkeypatch.setattr(owner, "__init__", make)


# Which outlet decides, and what it confers


@fault("the first drain entered no longer decides")
def _(monkeypatch):
    monkeypatch.setattr(second_law, "ADMITTING", set())


@fault("the outlet met first is the basis, not the strongest class")
def _(monkeypatch):
    once_made(monkeypatch, second_law.Profile, lambda profile: profile.rank.update(dict.fromkeys(profile.rank, 0)))


@fault("a benefit-only row counts as assessed for outlet")
def _(monkeypatch):
    monkeypatch.setattr(second_schedules, "for_outlet", lambda schedule, row: True)


@fault("a benefit-only row counts as not assessed")
def _(monkeypatch):
    after(monkeypatch, Law, "assessed_in", lambda listed, *_: None if listed == second_law.BENEFIT_ONLY else listed)


@fault("the rows of a parcel on several branches do not add up")
def _(monkeypatch):
    monkeypatch.setattr(second_schedules, "sum", max, raising=False)


@fault("a drain without a schedule gives no right")
def _(monkeypatch):
    def right(right, law, feature, *_):
        return None if law.provision(feature) == "assessed_by_schedule" and feature not in law.case.schedules else right

    after(monkeypatch, Law, "right", right)


@fault("an assessment gives a right without touching the drain")
def _(monkeypatch):
    def right(right, law, feature, *_):
        return law.assessed_in(feature) if law.provision(feature) == "assessed_by_schedule" and feature in law.case.schedules else right

    after(monkeypatch, Law, "right", right)


@fault("a watercourse gives a right without frontage")
def _(monkeypatch):
    after(monkeypatch, Law, "provision", lambda provision, *_: "natural_flow" if provision == "frontage" else provision)


@fault("natural flow asks for frontage")
def _(monkeypatch):
    after(monkeypatch, Law, "provision", lambda provision, *_: "frontage" if provision == "natural_flow" else provision)


@fault("membership in an agreement is ignored")
def _(monkeypatch):
    monkeypatch.setattr(Law, "parties", lambda law, feature: [])


@fault("who has permission for a road's ditch asks the road authority again")
def _(monkeypatch):
    monkeypatch.setattr(Law, "asked", lambda law, path: path.lands)


@fault("the permission of the parcel alone is enough")
def _(monkeypatch):
    once_made(monkeypatch, Path, lambda path: setattr(path, "crossed", []))


# Hectares


@fault("the tolerance of an excess is dropped")
def _(monkeypatch):
    once_made(monkeypatch, second_law.Profile, lambda profile: profile.minimums.update(excess_ha=0.0))


@fault("assessed hectares have no limit")
def _(monkeypatch):
    after(monkeypatch, Law, "assessed", lambda left, *_: dict.fromkeys(left, second_law.np.inf))


@fault("small groups are shares of their own")
def _(monkeypatch):
    monkeypatch.setattr(second_implementation, "SMALL_FRACTION", 0.0)


@fault("the remainder decides too")
def _(monkeypatch):
    monkeypatch.setattr(Law, "counted", lambda law: law.pieces)


# Where water goes


@fault("the outlet of a lawful pipe is missed")
def _(monkeypatch):
    after(monkeypatch, Worked, "lawful_at", lambda met, worked, cell: [id for id in met if id == worked.waterway_at.get(cell)])


@fault("a lake or river mapped as a polygon is no outlet")
def _(monkeypatch):
    after(monkeypatch, Worked, "lawful_at", lambda met, worked, cell: [id for id in met if id not in worked.waters.of])


@fault("a waterway has the corner that another one runs through")
def _(monkeypatch):
    monkeypatch.setattr(second_implementation, "CORNER_CELLS", 0)


@fault("a hole in the elevation is taken for its edge")
def _(monkeypatch):
    after(monkeypatch, Worked, "end", lambda end, *_: "edge" if end == "hole" else end)


@fault("a closed lake is taken for a kept depression")
def _(monkeypatch):
    after(monkeypatch, Worked, "end", lambda end, *_: "kept_depression" if end == "closed_lake" else end)


@fault("a lake is as high as the elevation in it")
def _(monkeypatch):
    monkeypatch.setattr(second_waters.Waters, "set_level", lambda *_: None)


@fault("of waters that overlap the weakest class has the cells")
def _(monkeypatch):
    once_made(monkeypatch, second_law.Profile, lambda profile: setattr(profile, "kinds", dict(reversed(profile.kinds.items()))))


@fault("a shore is no frontage")
def _(monkeypatch):
    after(monkeypatch, Worked, "touches", lambda touches, worked, _, feature: touches and feature not in worked.waters.of)


# Ways


@fault("consents leave out the road")
def _(monkeypatch):
    once_made(monkeypatch, Path, lambda path: setattr(path, "lands", {land for land in path.lands if land[0] != "road"}))


@fault("own land counts as another's")
def _(monkeypatch):
    right = Path.__init__
    monkeypatch.setattr(Path, "__init__", lambda path, worked, own, leaving: right(path, worked, set(), leaving))


@fault("the municipality and the parties of an agreement are not asked")
def _(monkeypatch):
    monkeypatch.setattr(Law, "taking", lambda *_: set())


@fault("a road ditch needs no permission")
def _(monkeypatch):
    monkeypatch.setattr(Law, "road_ditch", lambda *_: None)


@fault("water can be led uphill to own frontage")
def _(monkeypatch):
    monkeypatch.setattr(Law, "can_be_led", lambda law, _, feature: law.worked.touches(law.parcel, feature))


@fault("a petition is offered beside a connection")
def _(monkeypatch):
    def petition(law, piece, path):
        return ((path.outlets[0] if path.outlets else None), set()) if piece.standing == "acquire" else None

    monkeypatch.setattr(Law, "petition", petition)


# Piped water


@fault("collected water that runs open on others is ignored")
def _(monkeypatch):
    once_made(monkeypatch, second_piped.Walk, lambda walk: setattr(walk, "open_on", []))


@fault("a pipe under a neighbour is ignored")
def _(monkeypatch):
    once_made(monkeypatch, second_piped.Walk, lambda walk: setattr(walk, "under", []))


@fault("the outlet of a lawful main is missed")
def _(monkeypatch):
    right = second_piped.Walk.__init__

    def walk(self, worked, parcel, pipe):
        kinds = worked.kind
        worked.kind = kinds | {pipe: ""}
        right(self, worked, parcel, pipe)
        worked.kind = kinds

    monkeypatch.setattr(second_piped.Walk, "__init__", walk)
