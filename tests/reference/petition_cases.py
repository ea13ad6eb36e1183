"""Small invented cases for the petition count, each a function of its seed: a patchwork of lots with owners and co-owners,
roads and their authorities, an area that cuts through them, a list of signatures and a rule profile.

Lengths are metres east and north of the south-west corner until the layers are written. What an area leaves of a land, inside
or out, is clearly wider than the noise of coordinates or clearly narrower: whether a land is inside is never a matter of the
last digits.
"""

import csv
import json
from dataclasses import dataclass, field, replace

import numpy as np
import pyogrio
import shapely

import petition_count
import petition_rules
import projection
import rasters
import small_cases
import terrains
from petition_count import Given, Land
from road_lands import Road, road_lands
from terrains import Terrain

NOT_CLEAR_M = (0.02, 0.1)
ACCURACY_M = 2.0
OVERLAP_M = 1.0
# Narrower than the noise of coordinates, and wider.
STRIPS_M = (0.01, 0.01, 1.0, 3.0)
SMALLEST_SQUARE_METRES = 2.0
MILLIMETRE = 0.001
CELLS_M = (10.0, 20.0, 30.0, 50.0)
MOST_TRIES = 60
MOST_LISTS = 4
MOST_OWNERS = 8
DATE = "2026-03-04"
OWNERS = (
    "Hester Plumbridle",
    "Ivo Tanglewick",
    "Larkspur Acres Inc.",
    "Jorin Hayfellow",
    "Otto Rushlight",
    "Clover and Sons Ltd.",
    "Tabitha Longfurrow",
    "Ulric Saltmarrow",
    "Wilhelmina Ashplough",
    "Beatrix Lanternhay",
)
# Two owners, however alike their names look.
COMPANIES = ["Oxpindle Holdings 41 Ltd.", "Oxpindle Holdings 42 Ltd."]
SHIPPED = ("ontario", "ontario", "iowa", "manitoba")
AUTHORITIES = ("Township of Oxpindle", "County of Thrumbleby", None)
# How the file with the area states its reference system.
FORMS = ("lonlat", "lonlat", "projected", "projected", "geopackage", "other_zone", "web")
SYSTEMS = {"geopackage": rasters.CRS, "other_zone": "EPSG:26916", "web": "EPSG:3857"}


@dataclass
class PetitionCase:
    name: str
    parcels: dict
    """Polygons by id."""
    owners: dict
    """By parcel: the texts of the fields for owner and co-owners."""
    area: list
    """One geometry for each feature."""
    profile: str
    """The text of a profile, or the name of a shipped one."""
    roads: list = field(default_factory=list)
    given: Given = field(default_factory=Given)
    form: str = "projected"
    remonstrance: bool = False
    cells: tuple = (20, 20)
    """Rows and columns of the elevation."""
    cell_m: float = 50.0

    def profile_text(self):
        return self.profile if "\n" in self.profile else petition_rules.shipped(self.profile)

    def rules(self):
        return petition_count.Rules(self.profile_text(), self.remonstrance)

    def polygons(self):
        """Of parcels and roads, by kind and id."""
        roads = {land: road.polygon for land, road in self.whole_roads().items()}
        return {("parcel", id): polygon for id, polygon in self.parcels.items()} | roads

    def whole_roads(self):
        return road_lands(self.roads)

    def owners_of(self):
        """Names by kind and id; a road without an authority is its own owner."""
        roads = {land: frozenset([road.authority or land[1]]) for land, road in self.whole_roads().items()}
        return {("parcel", id): petition_count.names(*self.owners[id]) for id in self.parcels} | roads

    def whole_area(self):
        return shapely.union_all(self.area)

    def register(self):
        owners = self.owners_of()
        by_kind = {kind: {id: who for (of, id), who in owners.items() if of == kind} for kind in ("parcel", "road")}
        return petition_count.Register(by_kind["parcel"], by_kind["road"], self.rules().officers)

    def signed_by(self):
        """For each person the names, and the ids of parcels and roads, by which the signature is given."""
        register, found = self.register(), {}
        given = [(text, register.signers(text)[0]) for text in [*self.given.ids, *self.given.add]]
        given += [(row["owner"] or row["parcel"], register.of_row(row)) for row in self.given.rows]
        for text, people in given:
            for person in people:
                found.setdefault(person, {person}).add(text)
        return found

    def signatures(self):
        return petition_count.signatures(self.given, self.register())


# Random cases


def random_case(seed):
    rng = np.random.default_rng([seed, 1901])
    cell_m = float(rng.choice(CELLS_M))
    parcels, roads = land(rng, [int(cells) for cells in rng.integers(7, 16, 2)], cell_m)
    parcels, roads = turned(parcels, roads, float(rng.uniform(0.0, 90.0)) if rng.random() < 0.4 else 0.0)
    profile = str(rng.choice(SHIPPED)) if rng.random() < 0.3 else petition_rules.random_profile(rng)
    case = PetitionCase(f"petition-{seed}", parcels, owners(rng, parcels), [], profile, roads)
    case.cells, case.cell_m, case.form = cells_over(case, cell_m), cell_m, str(rng.choice(FORMS))
    case.area = clear_area(rng, case)
    case.remonstrance = bool(petition_count.Rules(case.profile_text(), True).tests) and rng.random() < 0.3
    case.given = given(rng, case)
    for _ in range(MOST_LISTS):
        if is_on_the_verge(case):
            break
        case.given = given(rng, case)
    return case


def is_on_the_verge(case):
    """Whether one signature more or less changes the verdict: there a fault in the count shows."""
    area, owners = case.whole_area(), case.owners_of()
    held = {land: petition_count.inside(polygon, area) for land, polygon in case.polygons().items()}
    lands = [
        Land(id, kind, owners[kind, id], round(part.area))
        for (kind, id), part in held.items()
        if part.area > SMALLEST_SQUARE_METRES
    ]
    count, signatures = petition_count.Count(lands, case.rules()), case.signatures()
    return any(count.tips(person, signatures) for person in count.people())


def land(rng, cells, cell_m):
    """Lots along rows and columns of cells, some of which overlap a neighbour; roads of a whole cell or less between them."""
    rows, cols = cells
    strips = roads_across(rng, rows, cols)
    road = shapely.union_all([strip for strip, *_ in strips]) if strips else shapely.Polygon()
    lots = [petition_count.surfaces(shapely.box(*piece) - road) for piece in small_cases.split(rng, (0, 0, cols, rows))]
    lots = [lot for number, lot in enumerate(lots) if lot.area > 0.0 and (number == 0 or rng.random() < 0.93)]
    while len(lots) > 3 and rng.random() < 0.5:
        lots.append(shapely.union(lots.pop(int(rng.integers(len(lots)))), lots.pop(0)))
    lots = [shapely.transform(lot, lambda xy: xy * cell_m) for lot in lots or [shapely.box(0, 0, cols, rows)]]
    parcels = {}
    for lot, number in zip(lots, rng.permutation(len(lots)), strict=True):
        overlaps = rng.random() < 0.15
        parcels[f"{number:03}"] = shapely.union(lot, shapely.affinity.translate(lot, OVERLAP_M, 0.0)) if overlaps else lot
    roads = [Road(shapely.transform(strip, lambda xy: xy * cell_m), *named) for strip, *named in strips]
    return dict(sorted(parcels.items())), with_parcel_ids(rng, roads, list(parcels))


def roads_across(rng, rows, cols):
    """(strip, id, name, authority) of each; those of one id are one road."""
    found = []
    for number in range(rng.choice([0, 1, 1, 2, 2, 3])):
        wide = float(rng.choice([1.0, 0.4]))
        if number % 2:
            at = float(rng.integers(0, cols))
            strip = shapely.box(at, 0.0, at + wide, rows)
        else:
            at = float(rng.integers(0, rows))
            strip = shapely.box(0.0, at, cols, at + wide)
        authority = AUTHORITIES[rng.choice(3, p=[0.5, 0.3, 0.2])]
        id = None if rng.random() < 0.15 else f"R{number}"
        found.append((strip, id, "Invented Line", authority))
    if found and rng.random() < 0.3:
        _, id, name, authority = found[0]
        found.append((shapely.box(-2.0, -2.0, cols, -1.0), id, name, authority))
    return found


def with_parcel_ids(rng, roads, parcels):
    """One in a few has the id of a parcel."""
    if roads and roads[-1].id and roads[-1].id != "R0" and rng.random() < 0.2:
        roads[-1].id = str(rng.choice(parcels))
    return roads


def turned(parcels, roads, angle):
    """By so many degrees, with the south-west corner of the whole at the origin."""
    polygons = [*parcels.values(), *(road.polygon for road in roads)]
    turned = [shapely.affinity.rotate(polygon, angle, (0.0, 0.0)) if angle else polygon for polygon in polygons]
    west, south, *_ = shapely.total_bounds(turned)
    moved = [shapely.affinity.translate(polygon, -west, -south) for polygon in turned]
    roads = [replace(road, polygon=polygon) for road, polygon in zip(roads, moved[len(parcels) :], strict=True)]
    return dict(zip(parcels, moved, strict=False)), roads


def cells_over(case, cell_m):
    """Rows and columns of an elevation under all land."""
    _, _, east, north = extent(case).bounds
    return int(north // cell_m) + 1, int(east // cell_m) + 1


def owners(rng, parcels):
    """Owners of several lots, co-owners in either field, lots that nobody is named for, names in two spellings, a road
    authority that owns a lot."""
    people = list(rng.permutation(OWNERS)[: rng.integers(2, MOST_OWNERS + 1)])
    if rng.random() < 0.25:
        people[-1] = AUTHORITIES[0]
    if rng.random() < 0.25:
        people[:2] = COMPANIES
    some_are_unowned, has_two_spellings = rng.random() < 0.5, rng.random() < 0.5
    otherwise = [spelled_otherwise(rng, str(people[0])) for _ in range(2)]
    found = {}
    for id in parcels:
        own = [str(name) for name in rng.choice(people, rng.choice([1, 1, 1, 2, 2, 3]))]
        if some_are_unowned and rng.random() < 0.25:
            own = []
        if has_two_spellings and own and rng.random() < 0.3:
            own[0] = str(rng.choice(otherwise))
        found[id] = fields(rng, own)
    return found


def spelled_otherwise(rng, name):
    """In most of these ways it looks like the same owner."""
    first, *others = name.split()
    last = f"{others[-1]}, {' '.join([first, *others[:-1]])}"
    slip = int(rng.integers(2, len(name) - 2))
    missing, swapped = name[:slip] + name[slip + 1 :], name[:slip] + name[slip : slip + 2][::-1] + name[slip + 2 :]
    alike = [name.upper(), name.replace(" ", "  "), last, f"{first[0]}. {' '.join(others)}", missing, swapped, f"{name}s"]
    unlike = [f"{missing}tt", f"{name} 2"]
    return str(rng.choice(alike + unlike))


def fields(rng, names):
    """The texts of the fields for owner and co-owners: the names of all, or the first beside the others."""
    if not names:
        return None, None
    if rng.random() < 0.3:
        return "; ".join(names), None
    separator = str(rng.choice([";", "; ", " ; "]))
    others = separator.join(names[1:])
    return names[0], f"{others};" if others and rng.random() < 0.3 else others or None


# Areas


def clear_area(rng, case):
    """A random area of which no land has a part that is nearly noise."""
    for _ in range(MOST_TRIES):
        area = AREAS[rng.choice(len(AREAS), p=AREA_WEIGHTS)](rng, case)
        if area and is_clear(case, area):
            return area
    return everything(rng, case)


def is_clear(case, area):
    if not shapely.is_valid(area).all():
        return False
    whole = shapely.union_all(area)
    lands = list(case.polygons().values())
    held = [petition_count.inside(polygon, whole) for polygon in lands]
    left = [petition_count.outside(polygon, whole) for polygon in lands]
    is_some = any(petition_count.width_m(part) > NOT_CLEAR_M[1] for part in held)
    return is_some and all(map(is_clear_part, held + left))


def is_clear_part(part):
    width = petition_count.width_m(part)
    return width < NOT_CLEAR_M[0] or (width > NOT_CLEAR_M[1] and part.area > SMALLEST_SQUARE_METRES)


def extent(case):
    return shapely.box(*shapely.total_bounds(list(case.polygons().values())))


def as_feature(geometry):
    """Its polygons as one feature, where it has any."""
    whole = petition_count.surfaces(geometry)
    return [whole] if not whole.is_empty else []


def anywhere(rng, case):
    """A star with a few points."""
    west, south, east, north = extent(case).bounds
    middle = rng.uniform(west, east), rng.uniform(south, north)
    points = int(rng.integers(5, 12))
    angles = (np.arange(points) + rng.uniform(0.0, 0.8, points)) * 2.0 * np.pi / points
    radii = rng.uniform(0.15, 0.8, points) * max(east - west, north - south)
    return shapely.Polygon(zip(middle[0] + radii * np.cos(angles), middle[1] + radii * np.sin(angles), strict=True))


def star(rng, case):
    return as_feature(anywhere(rng, case))


def everything(rng, case):
    return as_feature(extent(case).buffer(20.0, join_style="mitre"))


def some_lots(rng, case):
    """On whole millimetres: what rounding leaves open between lots that touch is closed."""
    polygons = list(case.polygons().values())
    chosen = rng.permutation(len(polygons))[: rng.integers(1, len(polygons) + 1)]
    return shapely.union_all([polygons[number] for number in chosen], grid_size=MILLIMETRE)


def along_lot_lines(rng, case):
    return as_feature(some_lots(rng, case))


def beside_lot_lines(rng, case):
    """Beyond lot lines, or short of them, by less than the noise of coordinates or by a little more."""
    off = float(rng.choice(STRIPS_M)) * float(rng.choice([1.0, -1.0]))
    return as_feature(some_lots(rng, case).buffer(off, join_style="mitre"))


def with_hole(rng, case):
    around = everything(rng, case)[0] if rng.random() < 0.5 else some_lots(rng, case)
    lots = list(case.polygons().values())
    hole = anywhere(rng, case) if rng.random() < 0.5 else lots[rng.integers(len(lots))]
    return as_feature(shapely.difference(around, hole, grid_size=MILLIMETRE))


def two_features(rng, case):
    """That lie apart or over one another; the one may fill a hole of the other."""
    return star(rng, case) + (with_hole(rng, case) if rng.random() < 0.5 else along_lot_lines(rng, case))


AREAS = (star, everything, along_lot_lines, beside_lot_lines, with_hole, two_features)
AREA_WEIGHTS = (0.2, 0.1, 0.15, 0.2, 0.15, 0.2)


# Signatures


def given(rng, case):
    """Ids and names, or the rows of a file; some twice, some withdrawn, some added, some of people who own nothing inside."""
    register = case.register()
    willing = float(rng.choice([0.1, 0.3, 0.5, 0.7, 1.0]))
    tokens = tokens_of(rng, register, willing)
    found = Given(add=few(rng, tokens_of(rng, register, 0.5), 0.2), withdraw=few(rng, tokens_of(rng, register, 0.5), 0.3))
    if rng.random() < 0.5:
        found.ids = tokens + ([str(rng.choice(tokens))] if tokens and rng.random() < 0.3 else [])
    else:
        found.rows = rows_of(rng, register, willing)
    return found


def few(rng, tokens, often):
    return [str(token) for token in rng.permutation(tokens)[:2]] if rng.random() < often else []


def tokens_of(rng, register, willing):
    """Parcels, roads, persons and officers whose name stands for somebody; commas part them, so that no name has one."""
    people = {name for who in (*register.parcels.values(), *register.roads.values()) for name in who if "," not in name}
    parcels = [id for id, who in register.parcels.items() if who and rng.random() < willing * 0.6]
    roads = [id for id in register.roads if register.signers(id)[0] and rng.random() < willing * 0.5]
    named = [name for name in sorted(people) if name not in register.roads and rng.random() < willing * 0.5]
    officers = ["director"] if "director" in register.officers and rng.random() < 0.2 else []
    return list(dict.fromkeys(str(token) for token in rng.permutation(parcels + roads + named + officers)))


def rows_of(rng, register, willing):
    """Rows by parcel, by owner, by both; somebody who withdraws does so in every row."""
    people = sorted(frozenset().union(*register.parcels.values()))
    withdrawing = {name for name in people if rng.random() < 0.15}
    rows = [{"parcel": id, "owner": ""} for id, who in register.parcels.items() if who and rng.random() < willing * 0.5]
    rows += [{"parcel": "", "owner": name} for name in people if rng.random() < willing * 0.4]
    rows += [
        {"parcel": id, "owner": name}
        for id, who in register.parcels.items()
        for name in sorted(who)
        if rng.random() < willing * 0.4
    ]
    found = []
    for row in (rows[number] for number in rng.permutation(len(rows))):
        who = register.of_row(row)
        if who <= withdrawing or not who & withdrawing:
            found.append(row | {"withdrawn": DATE if who <= withdrawing else ""})
    return found


# Files


def write(case, folder):
    """Writes the case; returns the case file and the arguments of the command on it."""
    folder.mkdir()
    rows, cols = case.cells
    # Nearly flat: where water runs is no part of the count.
    ground = terrains.rough(np.random.default_rng(7), case.cells).astype(np.float32)
    rasters.write_dem(folder / "dem.tif", Terrain(case.name, ground, (case.cell_m, case.cell_m)))
    south_west = np.array([rasters.WEST, rasters.NORTH - rows * case.cell_m])

    def on_map(geometry):
        return shapely.transform(geometry, lambda xy: south_west + xy)

    parcels = [(on_map(polygon), owner_fields(case, id)) for id, polygon in case.parcels.items()]
    write_geojson(folder / "parcels.geojson", parcels, small_cases.CRS)
    if case.roads:
        fields = [{"road": road.id, "name": road.name, "kept_by": road.authority} for road in case.roads]
        roads = [(on_map(road.polygon), given) for road, given in zip(case.roads, fields, strict=True)]
        write_geojson(folder / "roads.geojson", roads, small_cases.CRS)
    area = write_area(folder, [on_map(part) for part in case.area], case.form)
    profile = case.profile
    if "\n" in profile:
        (folder / "rules.toml").write_text(profile)
        profile = "rules.toml"
    (folder / "case.toml").write_text(CASE.format(profile=profile, accuracy_m=ACCURACY_M) + (ROADS if case.roads else ""))
    return folder / "case.toml", ["--area", area, *signature_arguments(case, folder)]


CASE = """
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"

[rules]
profile = "{profile}"

[parcels]
source = "parcels.geojson"
id = "roll"
owner = "owner"
co_owners = "others"
accuracy_m = {accuracy_m}
"""

ROADS = """
[roads]
source = "roads.geojson"
id = "road"
name = "name"
authority = "kept_by"
"""


def owner_fields(case, id):
    owner, others = case.owners[id]
    return {"roll": id, "owner": owner, "others": others}


def write_geojson(path, features, crs=None):
    features = [{"type": "Feature", "properties": p, "geometry": json.loads(shapely.to_geojson(g))} for g, p in features]
    stated = {"crs": crs} if crs else {}
    path.write_text(json.dumps({"type": "FeatureCollection", **stated, "features": features}))


def named_crs(code):
    return {"type": "name", "properties": {"name": f"urn:ogc:def:crs:{code.replace(':', '::')}"}}


def write_area(folder, parts, form):
    """The area in a file whose reference system is stated in one way or another; returns its path."""
    if form in ("geopackage", "other_zone"):
        return write_geopackage(folder / "area.gpkg", parts, SYSTEMS[form])
    path = folder / "area.geojson"
    if form == "lonlat":
        write_geojson(path, [(projection.to_lonlat(part, rasters.CRS), {}) for part in parts])
    elif form == "web":
        moved = [(projection.transform(part, rasters.CRS, SYSTEMS[form]), {}) for part in parts]
        write_geojson(path, moved, named_crs(SYSTEMS[form]))
    else:
        write_geojson(path, [(part, {}) for part in parts], small_cases.CRS)
    return path


def write_geopackage(path, parts, crs):
    moved = [petition_count.surfaces(projection.transform(part, rasters.CRS, crs)) for part in parts]
    numbers = np.arange(len(moved))
    pyogrio.raw.write(
        path,
        shapely.to_wkb(moved),
        [numbers],
        ["number"],
        geometry_type="MultiPolygon",
        crs=crs,
        driver="GPKG",
        layer="area",
    )
    return path


def signature_arguments(case, folder):
    found = []
    if case.given.rows:
        write_signatures(folder / "signed.csv", case.given.rows)
        found += ["--signed", folder / "signed.csv"]
    for option, ids in (("--signed", case.given.ids), ("--add", case.given.add), ("--withdraw", case.given.withdraw)):
        if ids:
            found += [option, ",".join(ids)]
    return found + (["--remonstrance"] if case.remonstrance else [])


def write_signatures(path, rows):
    """Columns that no row fills are left out."""
    columns = [name for name in ("withdrawn", "parcel", "owner", "capacity", "signed") if any(row.get(name) for row in rows)]
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
