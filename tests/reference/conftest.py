"""Fixtures, and a closing table that names for each check its reference library with version and what was measured."""

import os
from importlib.metadata import version
from pathlib import Path

import pytest

import cases
import program
import rasters
import terrains

DEFAULT_REAL_DATA = program.ROOT / "../shared/data"


@pytest.fixture
def measured(record_property):
    """Call it with a sentence to have it in the closing table."""
    return lambda text: record_property("measured", text)


@pytest.fixture(scope="session", params=[*terrains.random_terrains(), terrains.jacksboro()], ids=lambda t: t.name)
def conditioned(request, tmp_path_factory):
    """A terrain and the rasters the program made of it."""
    terrain = request.param
    return terrain, rasters.condition(terrain, tmp_path_factory.mktemp(terrain.name))


@pytest.fixture(scope="session")
def demonstration(tmp_path_factory):
    """The demonstration case and the outputs of the main job on it."""
    folder = tmp_path_factory.mktemp("demonstration")
    program.run("demo", folder / "case")
    return cases.outlets(folder / "case/case.toml", folder / "out")


@pytest.fixture(scope="session")
def real_data():
    folder = Path(os.environ.get("FALLWRIGHT_REAL_DATA", DEFAULT_REAL_DATA)).resolve()
    if not folder.is_dir():
        pytest.skip(f"no real data at {folder}: FALLWRIGHT_REAL_DATA can name another folder")
    return folder


def pytest_collection_modifyitems(items):
    for item in items:
        marker = item.get_closest_marker("reference")
        if marker is None:
            raise pytest.UsageError(f"{item.nodeid} does not name its reference")
        item.user_properties.append(("reference", ", ".join(f"{name} {version(name)}" for name in marker.args)))


def pytest_terminal_summary(terminalreporter):
    rows = {}
    for outcome in ("passed", "failed", "error", "skipped"):
        for report in terminalreporter.getreports(outcome):
            path, check = report.nodeid.split("[")[0].split("::")
            key = (Path(path).name, check)
            reference = dict(report.user_properties)["reference"]
            row = rows.setdefault(key, {"reference": reference, "outcomes": {}, "measured": []})
            row["outcomes"][outcome] = row["outcomes"].get(outcome, 0) + 1
            row["measured"] += [text for name, text in report.user_properties if name == "measured"]
    terminalreporter.section("reference checks")
    for (module, check), row in sorted(rows.items()):
        outcomes = ", ".join(f"{count} {outcome}" for outcome, count in row["outcomes"].items())
        terminalreporter.line(f"{module} {check}: {outcomes} (against {row['reference']})")
        for text in row["measured"]:
            terminalreporter.line(f"    {text}")
