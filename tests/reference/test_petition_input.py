"""What the petition count makes of areas and lists that are faulty or odd: refused with every problem named, or noted; and
whether its tables hold ids and names as text.

The rules are those of the case file and of the command as the guide states them; areas are measured by shapely, tables read by
the csv module and by openpyxl.
"""

import csv
import zipfile

import openpyxl
import pytest
import shapely

import petition_cases
import petition_results
import program
import rasters
import small_cases
from petition_cases import PetitionCase, named_crs, write_geojson
from petition_count import Given
from petition_rules import of_heads, of_hectares, profile
from road_lands import Road

HESTER, IVO, OTTO = "Hester Plumbridle", "Ivo Tanglewick", "Otto Rushlight"
FORMULAS = ("=1+1", "+2+3", "-4+5", "@six")
MAJORITY = ([of_heads("owners", "record_owner", more_than="1/2")],)
THREE_FIFTHS = ([of_hectares("land", at_least="3/5")],)
LAW = profile([MAJORITY, THREE_FIFTHS], officers=["road_authority", "director"])
# Starts of a text that a spreadsheet takes for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
# In metres east and north of the south-west corner: parts of lots 001 to 003, the last of which lies north of 001.
AREA = shapely.box(50.0, 20.0, 350.0, 330.0)
COMPARED = (
    "verdict",
    "with_roads",
    "without_roads",
    "tests",
    "smallest_to_pass",
    "smallest_to_break",
    "by_test",
    "fringe",
    "without_slivers",
    "area_ha",
)


def four_lots(owners=(HESTER, IVO, OTTO, "Invented Far"), area=AREA, given=None):
    """Lots of 200 m; the last one lies outside the area, and a road on the west."""
    parcels = {
        "001": shapely.box(0.0, 0.0, 200.0, 200.0),
        "002": shapely.box(200.0, 0.0, 400.0, 200.0),
        "003": shapely.box(0.0, 200.0, 200.0, 400.0),
        "004": shapely.box(400.0, 400.0, 600.0, 600.0),
    }
    texts = {id: owner if isinstance(owner, tuple) else (owner, None) for id, owner in zip(parcels, owners, strict=True)}
    road = Road(shapely.box(-20.0, 0.0, 0.0, 400.0), "R1", "Invented Line", "Township of Oxpindle")
    return PetitionCase("four lots", parcels, texts, [area], LAW, [road], given or Given())


def has_note(outcome, *words):
    return any(all(word in note for word in words) for note in outcome.count["notes"])


def refused(case, folder, *words, area=None, arguments=()):
    """Runs the command, which must refuse the input with all these words, and write nothing; `area` is a file in the place of
    the case's own."""
    file, own = petition_cases.write(case, folder)
    if area:
        own[1] = area(folder)
    out = folder / "out"
    message = program.run("petition", file, *own, *arguments, "--out", out, "--quiet", exit_code=3).stderr
    missing = [word for word in words if word not in message]
    assert not missing, f"{missing} not in:\n{message}"
    assert not out.exists(), f"{list(out.iterdir())} written although the input was refused"
    return message


def area_file(name, geometry, crs=small_cases.CRS):
    """Writes a file with one feature, placed on the map, into the folder of a case."""

    def write(folder):
        north = rasters.NORTH - 20 * 50.0
        placed = shapely.transform(geometry, lambda xy: xy + [rasters.WEST, north])
        write_geojson(folder / name, [(placed, {})], crs)
        return folder / name

    return write


# The area


@pytest.mark.reference("shapely", "pyproj")
def test_an_area_in_any_reference_system_lies_at_the_same_place(tmp_path, measured):
    found = {}
    for form in sorted(set(petition_cases.FORMS)):
        case = four_lots(given=Given(ids=["001"]))
        case.form = form
        outcome = petition_results.run(case, tmp_path / form)
        assert petition_results.differences(outcome) == []
        found[form] = {name: outcome.count[name] for name in COMPARED}
    assert all(count == found["projected"] for count in found.values()), found
    measured(f"the same count of {', '.join(found)}")


@pytest.mark.reference("shapely")
def test_a_hole_is_no_part_of_the_area(tmp_path, measured):
    hole = shapely.box(60.0, 30.0, 160.0, 130.0)
    whole = petition_results.run(four_lots(), tmp_path / "whole")
    holed = petition_results.run(four_lots(area=AREA - hole), tmp_path / "holed")
    assert petition_results.differences(holed) == []
    lost = [whole.lands["parcel", id]["inside_ha"] - holed.lands["parcel", id]["inside_ha"] for id in ("001", "002", "003")]
    assert lost == pytest.approx([1.0, 0.0, 0.0], abs=1e-9)
    measured("a hole of 1 ha in one lot takes 1 ha from it, nothing from the others")


BOW_TIE = shapely.Polygon([(10, 10), (390, 390), (390, 10), (10, 390)])


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    ("name", "geometry"),
    [
        ("away", shapely.box(5_000.0, 5_000.0, 5_100.0, 5_100.0)),
        ("crossing itself", BOW_TIE),
        ("line", shapely.LineString([(10, 10), (390, 390)])),
        ("point", shapely.Point(100, 100)),
        ("strip narrower than noise", shapely.box(0.0, 0.0, 0.01, 100.0)),
    ],
)
def test_areas_that_are_refused(name, geometry, tmp_path, measured):
    """The file with the area is named."""
    assert (name == "crossing itself") != geometry.is_valid
    refused(four_lots(), tmp_path / "case", "drawn.geojson", area=area_file("drawn.geojson", geometry))
    measured(f"refused: {name}")


@pytest.mark.reference("shapely")
def test_an_area_of_an_unknown_system_or_none_at_all_is_refused(tmp_path):
    unknown = named_crs("EPSG:999999")
    refused(four_lots(), tmp_path / "unknown", "area.geojson", area=area_file("area.geojson", AREA, unknown))
    refused(four_lots(), tmp_path / "missing", "nowhere.geojson", area=lambda folder: folder / "nowhere.geojson")

    def empty(folder):
        (folder / "empty.geojson").write_text('{"type": "FeatureCollection", "features": []}')
        return folder / "empty.geojson"

    refused(four_lots(), tmp_path / "empty", "empty.geojson", area=empty)


# Signatures


@pytest.mark.reference("shapely")
def test_all_problems_of_a_list_are_named_at_once(tmp_path, measured):
    rows = [
        {"parcel": "991", "owner": ""},
        {"parcel": "", "owner": "Nobody Known"},
        {"parcel": "002", "owner": HESTER},
        {"parcel": "001", "owner": ""},
        {"parcel": "", "owner": ""},
    ]
    given = Given(
        rows=[row | {"withdrawn": "", "signed": "2026-03-04"} for row in rows], add=["992", "hester plumbridle"], withdraw=["993"]
    )
    words = ["991", "Nobody Known", "002", HESTER, "992", "hester plumbridle", "993", "signed.csv", "tie.geojson"]
    message = refused(four_lots(given=given), tmp_path / "all", *words, area=area_file("tie.geojson", BOW_TIE))
    measured(f"{len(words)} words of eight problems in one message of {len(message.splitlines())} lines")


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    ("rows", "word"),
    [
        ([{"parcel": "001", "owner": "", "withdrawn": "perhaps"}], "perhaps"),
        ([{"parcel": "001", "owner": "", "withdrawn": "", "signed": "2026-13-01"}], "2026-13-01"),
        ([{"capacity": "director", "signed": "2026-03-04"}], "signed.csv"),
    ],
    ids=["withdrawn is no date", "signed is no date", "neither parcel nor owner"],
)
def test_a_list_that_cannot_be_read_is_refused(rows, word, tmp_path):
    case = four_lots()
    case.given = Given()
    refused(case, tmp_path / "list", word, arguments=["--signed", write_rows(tmp_path, rows)])


def write_rows(folder, rows):
    petition_cases.write_signatures(folder / "signed.csv", rows)
    return folder / "signed.csv"


@pytest.mark.reference("shapely")
def test_a_road_authority_signs_for_its_road_alone(tmp_path):
    """`road_authority` is no signature of its own; where the profile has no Director, `director` is nobody."""
    refused(four_lots(given=Given(ids=["road_authority"])), tmp_path / "authority", "road_authority")
    case = four_lots(given=Given(ids=["director"]))
    case.profile = profile([THREE_FIFTHS])
    refused(case, tmp_path / "director", "director")


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    "given", [Given(ids=["R1"]), Given(ids=["director"]), Given(add=["director"])], ids=["road", "director", "added"]
)
def test_an_officer_makes_it_depend(given, tmp_path):
    """Where the officer's condition holds, which no file of the case can say, the signature is enough by itself."""
    area = shapely.box(-10.0, 20.0, 350.0, 330.0)
    outcome = petition_results.run(four_lots(area=area, given=given), tmp_path / "case")
    assert outcome.count["verdict"] == "depends_on_roads"
    assert petition_results.differences(outcome) == []


@pytest.mark.reference("shapely")
def test_odd_signatures_are_noted_and_counted_once(tmp_path, measured):
    given = Given(ids=["001", "001", HESTER, "004"], add=["001"], withdraw=[IVO])
    outcome = petition_results.run(four_lots(given=given), tmp_path / "case")
    assert petition_results.differences(outcome) == []
    heads = outcome.count["tests"][0]
    assert (heads["have"], heads["of"]) == (1, 3)
    assert has_note(outcome, "001"), "an id that is there twice"
    assert has_note(outcome, "004", petition_results.NOTHING_INSIDE), "the lot of an owner of nothing inside"
    assert has_note(outcome, IVO), "a withdrawal of somebody who has not signed"
    measured(f"{len(outcome.count['notes'])} notes, one head counted")


@pytest.mark.reference("shapely")
def test_a_withdrawal_in_the_list_and_one_of_the_command(tmp_path):
    rows = [{"parcel": "001", "owner": "", "withdrawn": "2026-04-05"}, {"parcel": "", "owner": IVO, "withdrawn": ""}]
    case = four_lots(given=Given(rows=rows + [{"parcel": "003", "owner": OTTO, "withdrawn": ""}], withdraw=["002"]))
    for withdrawals, have in (("counted", 1), ("ignored", 3)):
        case.profile = profile([(*MAJORITY, withdrawals)])
        outcome = petition_results.run(case, tmp_path / withdrawals)
        assert outcome.count["tests"][0]["have"] == have
        assert petition_results.differences(outcome) == []


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        (Given(ids=["director"], withdraw=["director"]), "not_valid"),
        (Given(add=["director"], withdraw=["director"]), "not_valid"),
        (Given(rows=[{"parcel": "", "owner": HESTER, "withdrawn": "2026-04-05"}], add=["001", IVO]), "valid"),
        (Given(ids=["001", IVO], add=["001"], withdraw=[HESTER]), "not_valid"),
    ],
    ids=["officer", "officer added", "added after the list", "withdrawn at last"],
)
def test_what_is_added_comes_after_the_list_and_what_is_withdrawn_last(given, verdict, tmp_path):
    outcome = petition_results.run(four_lots(given=given), tmp_path / "case")
    assert outcome.count["verdict"] == verdict
    assert petition_results.differences(outcome) == []


# Owners


@pytest.mark.reference("shapely")
def test_a_parcel_without_an_owner_is_counted_and_noted(tmp_path, measured):
    """1 of 2 is no majority, 1 of 1 would be."""
    case = four_lots(
        (HESTER, None, (" ; ", ";"), "Invented Far"), area=shapely.box(0.0, 0.0, 400.0, 200.0), given=Given(ids=["001"])
    )
    case.profile = profile([MAJORITY])
    outcome = petition_results.run(case, tmp_path / "case")
    heads = outcome.count["tests"][0]
    assert (heads["have"], heads["of"], outcome.count["verdict"]) == (1, 2, "undecided")
    assert has_note(outcome, "002")
    assert petition_results.differences(outcome) == []
    measured("a lot without an owner: 1 of 2, undecided, in notes")


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    "other", ["HESTER PLUMBRIDLE", "Plumbridle, Hester", "H. Plumbridle", "Hester Plumbirdle", "Hester Plumridle"]
)
def test_two_spellings_are_noted_and_never_one_owner(other, tmp_path, measured):
    """2 of 4 is no majority; taken as one they would be 2 of 3."""
    outcome = petition_results.run(two_names(HESTER, other), tmp_path / "case")
    assert outcome.count["verdict"] == "undecided"
    assert has_note(outcome, HESTER, other)
    assert petition_results.differences(outcome) == []
    measured(f"{HESTER} and {other}: 2 of 4, undecided, both in one note")


@pytest.mark.reference("shapely")
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Oxpindle Holdings 41 Ltd.", "Oxpindle Holdings 42 Ltd."),
        ("Oxpindle Holdings 41 Ltd.", "Oxpindle Holdings 14 Ltd."),
        ("Oxpindle Holdings 41 Ltd.", "Oxpindle Holdings 4 Ltd."),
        (HESTER, "Hestor Plumbridel"),
        (HESTER, "I. Plumbridle"),
        (HESTER, "H. P."),
        ("Ada", "Ida"),
    ],
)
def test_names_of_two_owners_leave_nothing_undecided(one, other, tmp_path):
    outcome = petition_results.run(two_names(one, other), tmp_path / "case")
    assert outcome.count["verdict"] == "not_valid"
    assert not has_note(outcome, one, other)
    assert petition_results.differences(outcome) == []


def two_names(one, other):
    """The first of them and another owner have signed, two of four."""
    case = four_lots((one, IVO, (other, OTTO), "Invented Far"), given=Given(ids=[one, IVO]))
    case.profile = profile([MAJORITY])
    return case


# Tables


@pytest.fixture
def tables(tmp_path):
    """The outcome where owners are called like formulas, and one parcel has an id of digits alone."""
    owners = [(FORMULAS[0], f"{FORMULAS[1]}; {FORMULAS[2]}"), (FORMULAS[3], None), (HESTER, FORMULAS[0]), ("Invented Far", None)]
    case = four_lots(owners, given=Given(ids=["001", HESTER]))
    outcome = petition_results.run(case, tmp_path / "case")
    assert petition_results.differences(outcome) == []
    return outcome


def is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


@pytest.mark.reference("shapely")
def test_csv_holds_ids_as_text_and_no_formula(tables, measured):
    with (tables.out / "petition.csv").open(newline="", encoding="utf-8-sig") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert {"001", "002", "003"} <= set(cells)
    assert [cell for cell in cells if cell.startswith(FORMULA_STARTS) and not is_number(cell)] == []
    assert all(any(formula in cell for cell in cells) for formula in FORMULAS)
    measured(f"{len(cells)} cells, no formula among them")


@pytest.mark.reference("openpyxl")
def test_xlsx_holds_ids_as_text_and_no_formula(tables, measured):
    book = openpyxl.load_workbook(tables.out / "petition.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert [cell.coordinate for cell in cells if cell.data_type == "f"] == []
    texts = {cell.value for cell in cells if isinstance(cell.value, str)}
    assert {"001", "002", "003"} <= texts
    assert all(any(formula in text for text in texts) for formula in FORMULAS)
    with zipfile.ZipFile(tables.out / "petition.xlsx") as parts:
        sheets = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
    assert sheets and not any("<f>" in sheet or "<f " in sheet for sheet in sheets)
    measured(f"{len(cells)} cells on {len(book.sheetnames)} sheets, no formula among them")


@pytest.mark.reference("openpyxl")
def test_numbers_of_xlsx_are_numbers(tables, measured):
    """The hectares of each land, as `petition.geojson` has them."""
    book = openpyxl.load_workbook(tables.out / "petition.xlsx")
    rows = [[cell.value for cell in row] for sheet in book for row in sheet.iter_rows()]
    for (_, id), land in tables.lands.items():
        beside = [cell for row in rows if id in row for cell in row if isinstance(cell, float | int)]
        assert any(abs(cell - land["inside_ha"]) < 1e-9 for cell in beside), id
    measured(f"hectares of {len(tables.lands)} lands")


@pytest.mark.reference("shapely")
def test_a_profile_without_petitions_decides_nothing(tmp_path):
    case = four_lots(given=Given(ids=["001"]))
    case.profile = "manitoba"
    outcome = petition_results.run(case, tmp_path / "case")
    assert (outcome.count["verdict"], outcome.count["with_roads"], outcome.count["tests"]) == ("undecided", None, [])
    assert petition_results.differences(outcome) == []
