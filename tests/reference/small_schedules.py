"""Schedules of drains in the small cases: rows of parcels and roads, some with amounts for outlet and for benefit, some by branch."""

import csv
from dataclasses import dataclass

COLUMNS = ("roll", "ha", "out", "ben", "part")
FACTORS = (0.02, 0.3, 0.95, 1.0, 2.0)
# (outlet, benefit): for outlet, for both, for benefit alone, and for nothing, which is no assessment.
AMOUNTS = (("120.5", ""), ("120.5", "80"), ("", "80"), ("0", "80"), ("", ""))
OFTEN = (0.35, 0.2, 0.2, 0.15, 0.1)


@dataclass(frozen=True)
class Row:
    land: str
    """Id of a parcel or road."""
    hectares: float
    outlet: str = ""
    benefit: str = ""
    branch: str = ""


@dataclass(frozen=True)
class Schedule:
    rows: tuple
    has_amounts: bool
    """Whether the case names the columns of the amounts; where it does not, every row is for outlet."""
    has_branches: bool


def schedule(rng, lands, hectares_per_cell):
    """`lands` are polygons by id; of each the schedule lists less than it has, as much, or more."""
    assessed = {}
    for id, polygon in lands.items():
        if rng.random() < 0.6:
            assessed[id] = round(float(polygon.area * hectares_per_cell * rng.choice(FACTORS)), 2)
    return assessed


def with_amounts(rng, assessed, lands, hectares_per_cell):
    """A schedule of these hectares by land, in most cases with amounts, in some of these by branch."""
    assessed = {
        id: nearly(rng, lands[id].area, hectares_per_cell) if rng.random() < 0.5 else hectares for id, hectares in assessed.items()
    }
    has_amounts = bool(rng.random() < 0.75)
    has_branches = has_amounts and bool(rng.random() < 0.7)
    if not has_amounts:
        return Schedule(tuple(Row(id, hectares) for id, hectares in assessed.items()), False, False)
    rows = []
    for id, hectares in assessed.items():
        branches = ("A", "B") if has_branches and rng.random() < 0.8 else ("A" if has_branches else "",)
        for branch in branches:
            outlet, benefit = AMOUNTS[rng.choice(len(AMOUNTS), p=OFTEN)]
            rows.append(Row(id, round(hectares / len(branches), 6), outlet, benefit, branch))
    return Schedule(tuple(rows), has_amounts, has_branches)


def nearly(rng, cells, hectares_per_cell):
    """A twentieth less than all cells of a land, or some: what drains exceeds it within the accuracy of watershed areas."""
    draining = round(cells) if rng.random() < 0.4 else int(rng.integers(1, max(2, round(cells) + 1)))
    return round(draining * hectares_per_cell / 1.05, 5)


def write(folder, drain, given):
    """Writes a schedule; returns its table of the case file."""
    with open(folder / f"{drain}.csv", "w", newline="") as file:
        rows = [(row.land, row.hectares, row.outlet, row.benefit, row.branch) for row in given.rows]
        csv.writer(file).writerows([COLUMNS, *rows])
    text = ["[[schedules]]", f'source = "{drain}.csv"', f'drain = "{drain}"', 'parcel = "roll"', 'hectares = "ha"']
    if given.has_amounts:
        text += ['outlet = "out"', 'benefit = "ben"']
    return [*text, 'branch = "part"'] if given.has_branches else text
