"""The palette: colours that stay apart in simulated colour blindness and on a grey copy, texts that can be read.

The reference is colorspacious: CAM02-UCS (Luo, Cui & Li 2006), simulated dichromacy (Machado, Oliveira & Fernandes 2009) and
CIELab lightness. The limits are the project's own: 15 and 10 L* (our choice); text contrast 4.5:1 and its formula are of WCAG
2.2, 1.4.3 and "relative luminance".
"""

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from colorspacious import cspace_convert

pytestmark = pytest.mark.reference("colorspacious")

PALETTE = json.loads((Path(__file__).parents[2] / "crates/report/src/palette.json").read_text())
LEAST_DIFFERENCE = 15.0
LEAST_GREY_STEP = 10.0
LEAST_CONTRAST = 4.5

# Two standings of one fill differ by their marks.
FILLS = {style["fill"]: style["fill"] for style in PALETTE["standings"] if style["pattern"] != "hatch" or style["id"] == "acquire"}
# The path and watershed limits are both black, the path in a white casing; they differ by their dots and dashes.
LINES = {style["id"]: style["colour"] for style in PALETTE["lines"] if style["id"] in ("natural", "drain", "ditch", "path")}
VISIONS = [None, "deuteranomaly", "protanomaly", "tritanomaly"]


def rgb(colour):
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0


def seen(colour, vision):
    if vision is None:
        return rgb(colour)
    space = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
    return np.clip(cspace_convert(rgb(colour), space, "sRGB1"), 0.0, 1.0)


def difference(a, b, vision):
    places = [cspace_convert(seen(colour, vision), "sRGB1", "CAM02-UCS") for colour in (a, b)]
    return float(np.linalg.norm(places[0] - places[1]))


def lightness(colour):
    return float(cspace_convert(rgb(colour), "sRGB1", "CIELab")[0])


def luminance(colour):
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb(colour)]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(a, b):
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colours", [FILLS, LINES], ids=["fills", "lines"])
@pytest.mark.parametrize("vision", VISIONS)
def test_colours_stay_apart_in_every_vision(colours, vision):
    assert len(colours) == 4
    for a, b in itertools.combinations(colours, 2):
        found = difference(colours[a], colours[b], vision)
        assert found >= LEAST_DIFFERENCE, f"{a} and {b}: {found:.1f}"


@pytest.mark.parametrize("colours", [FILLS, LINES], ids=["fills", "lines"])
def test_colours_stay_apart_on_a_grey_copy(colours):
    levels = sorted(lightness(colour) for colour in colours.values())
    assert min(np.diff(levels)) >= LEAST_GREY_STEP, levels


@pytest.mark.parametrize("style", PALETTE["standings"], ids=lambda style: style["id"])
def test_text_on_fills_can_be_read(style):
    for fill in [style["fill"]] + ([style["over"]] if style["pattern"] == "hatch" and style["id"] != "acquire" else []):
        assert contrast(style["text"], fill) >= LEAST_CONTRAST


def test_every_standing_has_a_second_code_of_its_own():
    marks = [style["mark"] for style in PALETTE["standings"]]
    assert len(set(marks)) == len(marks)
    codes = [(tuple(style["dash_mm"]), style["casing"], style["width_mm"]) for style in PALETTE["lines"]]
    assert len(set(codes)) == len(codes)

