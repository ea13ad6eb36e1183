"""Roads as lands: what the features of a road layer are together, and how records name a land.

A parcel is its id, other land a pair of kind and id: a road may have a parcel's id, and a parcel may be called road.
"""

from dataclasses import dataclass

import shapely

UNOWNED = ("unowned", None)


@dataclass
class Road:
    """One feature of a road layer; what the layer does not say is `None`."""

    polygon: shapely.Geometry
    id: str | None = None
    name: str | None = None
    authority: str | None = None


def road_lands(features):
    """Roads by their party, in the order of their ids: features of one id are one road, one without an id is named by its number."""
    together = {}
    for number, road in enumerate(features, 1):
        together.setdefault(road.id or f"#{number}", []).append(road)
    return {
        ("road", id): Road(
            shapely.union_all([road.polygon for road in together[id]]),
            id,
            first_given(road.name for road in together[id]),
            first_given(road.authority for road in together[id]),
        )
        for id in sorted(together)
    }


def first_given(values):
    return next((value for value in values if value is not None), None)


def party(record, of=""):
    """The land that a record names, `of` before the names of its fields."""
    kind, id = record[f"{of}kind"], record[f"{of}id"] or None
    return id if kind == "parcel" else (kind, id)


def is_parcel(party):
    return isinstance(party, str)
