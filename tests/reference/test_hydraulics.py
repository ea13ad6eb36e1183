"""Normal depth, critical depth and part-full flow on a grid of sections, against root finding by scipy.

The numbers come from the crate's example `depths`, which prints them as CSV. Here each section is worked out anew: a circle by its
half chord, a trapezoid by its corners, an irregular section by cutting its polygon at the water's level.
"""

import csv
import math
import os
import subprocess

import numpy as np
import pytest
import shapely
from scipy.constants import g
from scipy.optimize import brentq

import program

pytestmark = pytest.mark.reference("scipy", "shapely")

TOLERANCE = 1e-9
IRREGULAR = [(0.0, 2.0), (2.0, 0.6), (3.0, 0.0), (3.5, 0.1), (5.0, 0.7), (9.0, 2.1)]
# Where a circle carries most: the maximum of A⁵/P² by its wet angle.
FULLEST = brentq(lambda angle: 3 * angle - 5 * angle * math.cos(angle) + 2 * math.sin(angle), 5.0, 5.5, xtol=1e-15)
FULLEST_DEPTH = (1 - math.cos(FULLEST / 2)) / 2


@pytest.fixture(scope="module")
def rows():
    command = [os.environ.get("CARGO", "cargo"), "run", "--quiet", "--package", "fallwright-hydraulics", "--example", "depths"]
    done = subprocess.run(command, cwd=program.ROOT, capture_output=True, text=True, timeout=program.LONGEST_RUN_S, check=True)
    printed = csv.DictReader(done.stdout.splitlines())
    rows = [{key: text if key == "shape" else float(text) for key, text in row.items()} for row in printed]
    assert len(rows) == 240
    return rows


def wet(row, depth):
    """Area, perimeter and width of the water's surface."""
    if row["shape"] == "circle":
        r = row["size"] / 2
        half = math.acos((r - depth) / r)
        chord = math.sqrt(max(depth * (2 * r - depth), 0.0))
        return r * r * half - (r - depth) * chord, 2 * r * half, 2 * chord
    if row["shape"] == "trapezoid":
        corners = [(-row["size"] / 2 - row["side_slope"] * depth, depth), (-row["size"] / 2, 0), (row["size"] / 2, 0)]
        corners.append((-corners[0][0], depth))
        shape = shapely.Polygon(corners)
        width = 2 * corners[-1][0]
        return shape.area, shape.length - width, width
    bank = shapely.LineString(IRREGULAR)
    under = shapely.box(-1, -1, 10, depth)
    ground = shapely.Polygon([*IRREGULAR, (9.0, 3.0), (0.0, 3.0)])
    water = shapely.intersection(ground, under)
    surface = shapely.intersection(water, shapely.LineString([(-1, depth), (10, depth)]))
    return water.area, shapely.intersection(bank, under).length, surface.length


def manning(row, depth):
    area, perimeter, _ = wet(row, depth)
    return area ** (5 / 3) / perimeter ** (2 / 3) * math.sqrt(row["grade"]) / row["n"]


def deepest(row):
    return {"circle": row["size"] * FULLEST_DEPTH, "trapezoid": 10.0, "irregular": 2.0}[row["shape"]]


def test_normal_depth(rows, measured):
    differences = []
    for row in rows:
        expected = brentq(lambda depth: manning(row, depth) - row["flow"], 1e-5, deepest(row), xtol=1e-15, rtol=1e-14)
        differences.append(abs(row["normal_depth"] - expected) / expected)
    assert max(differences) < TOLERANCE
    measured(f"{len(rows)} normal depths, largest relative difference {max(differences):.1e}")


def test_critical_depth(rows, measured):
    differences = []
    for row in rows:
        def excess(depth):
            area, _, width = wet(row, depth)
            return g * area**3 - row["flow"] ** 2 * width

        top = row["size"] if row["shape"] == "circle" else deepest(row)
        if math.isnan(row["critical_depth"]):
            assert row["shape"] == "irregular" and excess(top) < 0
            continue
        expected = brentq(excess, 1e-7, top * (1 - 1e-12), xtol=1e-15, rtol=1e-14)
        differences.append(abs(row["critical_depth"] - expected) / expected)
    assert len(differences) > 200
    assert max(differences) < TOLERANCE
    measured(f"{len(differences)} critical depths, largest relative difference {max(differences):.1e}")


def test_part_full_flow(rows, measured):
    reference = [0.7 * (row["size"] if row["shape"] == "circle" else 1.0) for row in rows]
    expected = np.array([manning(row, depth) for row, depth in zip(rows, reference, strict=True)])
    found = np.array([row["flow_at_0.7"] for row in rows])
    difference = np.abs(found / expected - 1).max()
    assert difference < TOLERANCE
    measured(f"{len(rows)} flows, largest relative difference {difference:.1e}")
