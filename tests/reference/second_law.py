"""The rules of law once more, simple and slow, for the second implementation of the outlet finding: what each outlet on a path
confers under the provision of its class, which outlet decides, how assessed hectares are handed out, and the ways to acquire.

It starts from the walks of the second implementation and from the rule profile as written, and shares no code with the program.
Sources of the rules stand in the profiles; that the drain which the water enters first decides rests on sections 65 and 76 of the
Drainage Act (from memory).
"""

import tomllib
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

import program
import second_schedules
from road_lands import UNOWNED, is_parcel
from second_schedules import BENEFIT_ONLY

PROFILES = program.ROOT / "crates/law/profiles"
# Our choice, as in the profiles and the design.
ROUNDING_HA = 1e-9
TIE_M = 1e-6
# Only land that is assessed, named or approved may use a feature under these.
ADMITTING = {"assessed_by_schedule", "named_party", "named_in_award", "approval", "permission_of_every_parcel"}
# Why an outlet leaves the land undecided, where it decides.
NO_SCHEDULE = "schedule_not_supplied"
OPEN = NO_SCHEDULE, BENEFIT_ONLY


class Profile:
    def __init__(self, name="ontario"):
        profile = tomllib.loads((PROFILES / f"{name}.toml").read_text())
        self.name = name
        self.classes = {item["id"]: item for item in profile["class"]}
        self.kinds = {item["id"]: item["kind"] for item in profile["class"]}
        """In order of strength."""
        self.rank = {id: number for number, id in enumerate(self.classes)}
        self.minimums = {name: item["value"] for name, item in profile["minimums"].items()}
        self.ways = {item["id"]: item for item in profile["way"]}

    def is_lawful(self, kind):
        return bool(kind) and self.classes[kind]["lawful_outlet"]


@dataclass
class Piece:
    share: int
    hectares: float
    standing: str
    basis: str | None
    """Feature."""
    exceeds: bool = False
    awaits: str | None = None
    """The reason for which a document of a drain has to be asked for."""


@dataclass
class Way:
    shares: set = field(default_factory=set)
    cures: float = 0.0
    consents: set = field(default_factory=set)
    """(kind, id)"""


class Law:
    """The finding on one parcel. `hectares_per_cell` turns the cells of the shares into hectares."""

    def __init__(self, worked, parcel, shares, hectares_per_cell):
        self.worked, self.case, self.profile, self.parcel, self.shares = worked, worked.case, worked.profile, parcel, shares
        self.hectares = [share.cells * hectares_per_cell for share in shares]
        self.own = {id for id, owner in self.case.owners.items() if owner == self.case.owners[parcel]}
        self.paths = [Path(worked, self.own, share.leaving) for share in shares]
        self.claims = [[(feature, self.right(feature, path)) for feature in path.outlets] for path in self.paths]
        self.pieces = self.judged()
        self.in_doubt = set()
        """Ways that rest on what lies within the tolerance of frontage."""

    def provision(self, feature):
        return self.profile.classes[self.worked.kind[feature]]["provision"]

    def parties(self, feature):
        way = next((way for way in self.case.waterways if way.id == feature), None)
        return None if way is None else way.parties

    def assessed_in(self, drain):
        return second_schedules.assessed(self.case.schedules[drain], self.parcel)

    # What an outlet confers

    def right(self, feature, path):
        """Hectares to which an outlet gives a right: all, a number, none, or why only a document can say so. Land assessed for
        benefit alone is one of these, on the drain or not: the municipality knows whether it carries outlet."""
        provision, parties = self.provision(feature), self.parties(feature) or []
        touches = self.worked.touches(self.parcel, feature)
        if provision == "frontage":
            return np.inf if touches else None
        if provision == "natural_flow":
            return np.inf
        if provision == "assessed_by_schedule":
            if feature not in self.case.schedules:
                return np.inf if touches else NO_SCHEDULE
            listed = self.assessed_in(feature)
            return listed if touches or listed == BENEFIT_ONLY else None
        if provision in ("named_party", "named_in_award", "approval"):
            return np.inf if self.parcel in parties else None
        if provision == "permission_of_every_parcel":
            return np.inf if {self.parcel, *path.crossed} <= set(parties) else None
        assert provision in ("written_permission", "none"), provision
        return None

    def deciding(self, claims):
        """Where the first outlet admits only some land, it alone; else all, the strongest class first."""
        if claims and self.provision(claims[0][0]) in ADMITTING:
            return claims[:1]
        return sorted(claims, key=lambda claim: self.profile.rank[self.worked.kind[claim[0]]])

    # Assessed hectares handed out

    def judged(self):
        deciding = [self.deciding(claims) for claims in self.claims]
        left = self.assessed(deciding)
        pieces = []
        for number, (hectares, own) in enumerate(zip(self.hectares, deciding, strict=True), 1):
            rest, served, exceeds = hectares, False, False
            for feature, right in own:
                if right is None or right in OPEN:
                    continue
                exceeds |= right != np.inf
                taken = rest if right == np.inf else min(rest, left[feature])
                if right != np.inf:
                    left[feature] -= taken
                if taken > ROUNDING_HA or right == np.inf:
                    pieces.append(Piece(number, taken, "right", feature))
                    rest, served = rest - taken, True
                if rest <= ROUNDING_HA and served:
                    break
            if rest > ROUNDING_HA or not served:
                pieces.append(self.without_right(number, rest, exceeds))
        return pieces

    def assessed(self, deciding):
        """Hectares that each drain's schedule leaves to be handed out: without limit where what drains to it exceeds the
        assessed hectares by no more than the accuracy of watershed areas."""
        drains = {}
        for hectares, own in zip(self.hectares, deciding, strict=True):
            for feature, right in own:
                if right == np.inf:
                    break
                if right is not None and right not in OPEN:
                    assessed, draining = drains.get(feature, (right, 0.0))
                    drains[feature] = assessed, draining + hectares
        minimums = self.profile.minimums
        left = {}
        for feature, (assessed, draining) in drains.items():
            accuracy = min(minimums["excess_ha"], minimums["excess_fraction"] * assessed)
            left[feature] = assessed if draining - assessed > accuracy + ROUNDING_HA else np.inf
        return left

    def without_right(self, number, hectares, exceeds):
        path, claims = self.paths[number - 1], self.claims[number - 1]
        if awaits := self.awaits(claims):
            return Piece(number, hectares, "undecided", None, exceeds, awaits)
        if claims or path.end in ("kept_depression", "closed_lake"):
            return Piece(number, hectares, "acquire", None, exceeds)
        return Piece(number, hectares, "undecided", None, exceeds)

    def awaits(self, claims):
        """The reason for which a drain that decides leaves the land undecided, if any: the first outlet that the water meets, or
        one farther down whose schedule lists the parcel. With another drain farther down the parcel has nothing to do."""
        deciding = self.deciding(claims)
        reasons = [right for claim in claims if claim in deciding and (right := claim[1]) in OPEN]
        listed = BENEFIT_ONLY if BENEFIT_ONLY in reasons else None
        return claims[0][1] if claims and claims[0][1] in OPEN else listed

    def counted(self):
        remainder = {number for number, share in enumerate(self.shares, 1) if share.is_remainder}
        return [piece for piece in self.pieces if piece.share not in remainder] or self.pieces

    def standing(self):
        counted = self.counted()
        hectares = {word: sum(piece.hectares for piece in counted if piece.standing == word) for word in ("acquire", "undecided")}
        rights = [piece.standing == "right" for piece in counted]
        if all(rights):
            return "right"
        if any(rights):
            return "right_in_part"
        return "acquire" if hectares["acquire"] >= hectares["undecided"] else "undecided"

    # Ways

    def ways(self):
        """(way, outlet) → what it takes."""
        counted = self.counted()
        ways = defaultdict(Way)
        if not any(self.needs_way(piece, self.paths[piece.share - 1]) for piece in counted):
            return ways
        for piece in counted:
            path = self.paths[piece.share - 1]
            for kind in self.profile.ways:
                offered = getattr(self, kind)(piece, path)
                if offered is None:
                    continue
                outlet, asked = offered
                way = ways[kind, outlet]
                way.shares.add(piece.share)
                # A permission is no right.
                way.cures += 0.0 if kind == "road_authority_permission" else piece.hectares
                way.consents |= asked if self.profile.ways[kind]["consent"] else set()
        return ways

    def needs_way(self, piece, path):
        if piece.standing == "right":
            return self.road_ditch(path) is not None
        return piece.standing == "acquire" or piece.awaits

    def taking(self, outlet):
        """Who must agree that an outlet takes the water: the municipality, or the parties of an agreement."""
        if outlet is None:
            return set()
        if self.provision(outlet) == "assessed_by_schedule":
            return {("municipality", outlet)}
        if self.provision(outlet) != "named_party" or self.parties(outlet) is None:
            return set()
        # A drain that runs over land of no party needs that owner too.
        concerned = {*self.parties(outlet), *self.worked.crossed_by(outlet)}
        return {("parcel", parcel) for parcel in concerned if parcel not in self.own}

    def asked(self, path):
        """Lands on a path whose owner or authority must be asked: no road on which the water runs in ditches that the parcel may use
        by permission."""
        permitted = {feature for feature in path.also_met if self.may_use(feature)}
        return {land for land in path.lands if land[0] == "parcel" or not permitted.issuperset(path.carriers[land])}

    def may_use(self, feature):
        return self.provision(feature) == "written_permission" and self.parcel in (self.parties(feature) or [])

    def road_ditch(self, path):
        """Parcels crossed before the first road ditch without permission; `None` where there is none."""
        for feature, crossed in path.also_met.items():
            if self.provision(feature) == "written_permission" and not self.may_use(feature):
                return crossed
        return None

    def can_be_led(self, piece, feature):
        """Where the ground beside the parcel would decide, the way is left in doubt and not compared."""
        length, on_parcel, lowest = self.worked.frontage(self.parcel, feature)
        level = self.worked.ground(self.shares[piece.share - 1].leaving)
        if on_parcel >= level > lowest or abs(length - self.profile.minimums["frontage_m"]) < 1.0:
            self.in_doubt.add(("lead_to_own_frontage", feature))
        return length > self.profile.minimums["frontage_m"] and on_parcel < level

    def lead_to_own_frontage(self, piece, path):
        if piece.standing == "acquire":
            claims = self.claims[piece.share - 1]
            deciding = [feature for feature, _ in self.deciding(claims)]
            beyond = [feature for feature, right in claims if feature not in deciding and right == np.inf]
            beyond = [feature for feature in beyond if self.provision(feature) == "frontage" and self.can_be_led(piece, feature)]
            beyond.sort(key=lambda feature: self.profile.rank[self.worked.kind[feature]])
            return (beyond[0], set()) if beyond else None
        if piece.standing != "right":
            return None
        asks_owners = path.crossed and self.provision(piece.basis) not in ("natural_flow", "permission_of_every_parcel")
        if not asks_owners and self.road_ditch(path) is None:
            return None
        return (piece.basis, set()) if self.can_be_led(piece, piece.basis) else None

    def mutual_agreement(self, piece, path):
        first = path.outlets[0] if path.outlets else None
        joins = first is not None and self.provision(first) == "named_party"
        asked = self.asked(path)
        if piece.standing != "acquire" or piece.exceeds or not (asked or joins):
            return None
        return first, asked | self.taking(first)

    def connection(self, piece, path):
        if piece.standing != "acquire" and not piece.awaits:
            return None
        for outlet in path.outlets:
            if self.provision(outlet) != "assessed_by_schedule":
                continue
            if outlet not in self.case.schedules:
                lacks = piece.awaits
            else:
                lacks = self.assessed_in(outlet) in (None, BENEFIT_ONLY) or self.worked.touches(self.parcel, outlet)
            if lacks:
                return outlet, self.asked(path) | self.taking(outlet)
        return None

    def petition(self, piece, path):
        if piece.standing != "acquire":
            return None
        connection = self.connection(piece, path)
        if connection is not None and self.worked.touches(self.parcel, connection[0]):
            return None
        return (path.outlets[0] if path.outlets else None), set()

    def needing_approval(self, path):
        needing = ("approval", "permission_of_every_parcel")
        return next((outlet for outlet in path.outlets if self.provision(outlet) in needing), None)

    def approval(self, piece, path):
        outlet = self.needing_approval(path)
        if piece.standing != "acquire" or outlet is None or self.parcel in (self.parties(outlet) or []):
            return None
        return outlet, self.asked(path)

    def written_permissions(self, piece, path):
        outlet = self.needing_approval(path)
        if piece.standing != "acquire" or outlet is None:
            return None
        missing = self.asked(path) - {("parcel", party) for party in self.parties(outlet) or []}
        return (outlet, missing) if missing else None

    def road_authority_permission(self, piece, path):
        crossed = self.road_ditch(path)
        if piece.standing == "undecided" or crossed is None:
            return None
        roads = {land for land in self.asked(path) if land[0] == "road"}
        before = {("parcel", parcel) for parcel in crossed}
        return None, before | roads | self.taking(path.outlets[0] if path.outlets else None)


class Path:
    """What a share's water meets on its way down to the first lawful outlet, and the outlets after it."""

    def __init__(self, worked, own, leaving):
        """`own` are the parcels of the same owner."""
        self.outlets = worked.outlets(leaving)
        self.end = worked.ends[worked.paths[leaving][-1]]
        _, lands = worked.way(leaving)
        visits = [visit for visit in lands[1:] if visit[0] not in own]
        others = dict.fromkeys(party for party, *_ in visits)
        self.crossed = [party for party in others if is_parcel(party)]
        self.lands = {land(party) for party in others if party != UNOWNED}
        self.carriers = {}
        """By land what carries the water for most of the way on it, of each time that it comes there."""
        for party, _, by_carrier in visits:
            self.carriers.setdefault(land(party), []).append(mostly(by_carrier))
        self.also_met = {}
        """Classed features that carry the water before, with the parcels crossed before each."""
        crossed = []
        for cell in worked.paths[leaving]:
            party = worked.party[cell]
            if is_parcel(party) and party not in own and party not in crossed:
                crossed.append(party)
            if worked.lawful_at(cell):
                break
            link = worked.link_at.get(cell)
            for feature in (worked.waterway_at.get(cell), *(worked.courses.chain(link["link_id"]) if link else [])):
                if feature is not None and worked.kind.get(feature) in worked.profile.classes:
                    self.also_met.setdefault(feature, list(crossed))


def mostly(by_carrier):
    """The one of most metres, on a tie the first; over the ground where there are none."""
    most = max(by_carrier.values(), default=0.0)
    return next((carrier for carrier, metres in by_carrier.items() if metres > most - TIE_M), None)


def land(party):
    """Kind and id."""
    return ("parcel", party) if is_parcel(party) else party
