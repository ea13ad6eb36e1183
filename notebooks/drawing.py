"""How the notebooks draw: one palette with a second code for every class, and what stands around every map.

Colours are from Paul Tol's medium-contrast set and ColorBrewer's YlOrBr; hatches and line shapes keep the meaning on a
grey photocopy.
"""

import hashlib
import json
import textwrap
from datetime import date

import matplotlib.pyplot as plt
import numpy as np
import shapely
from matplotlib.collections import LineCollection
from matplotlib.colors import LightSource
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon, Rectangle

# Standing of a parcel: fill, hatch, mark, words. Dark outlines, since the gold is faint on white.
STANDING = {
    "right": ("#6699CC", "", "●", "Right of drainage indicated by the data given"),
    "right_in_part": ("#6699CC", "////", "◑", "Right indicated for a part only"),
    "acquire": ("#EECC66", "////", "◐", "Outlet to be acquired"),
    "undecided": ("#FFFFFF", "..", "–", "Not judged (the data cannot decide)"),
}
WATERSHED = dict(facecolor="#FEE391", alpha=0.45, edgecolor="none")

SOLID, LONG_DASH, DOTS = "-", (0, (8, 3)), (0, (1, 1.5))
LOT_LINE = dict(color="#333333", lw=0.6, zorder=2)
LIMIT = dict(color="black", lw=1.5, ls=(0, (8, 2, 1.5, 2, 1.5, 2)), zorder=3)
AREA = dict(color="black", lw=3.0, ls=SOLID, zorder=5)
DITCH = dict(color="#555555", lw=0.9, ls=(0, (3, 2)), zorder=4)
WATERWAYS = {
    "natural_watercourse": (dict(color="#004488", lw=2.0, ls=SOLID, zorder=4), "Natural watercourse"),
    "municipal_drain": (dict(color="#997700", lw=2.0, ls=LONG_DASH, zorder=4), "Drain with legal standing"),
    "mutual_agreement_drain": (dict(color="#997700", lw=2.0, ls=LONG_DASH, zorder=4), "Drain with legal standing"),
}
PATH = dict(color="black", lw=2.2, ls=DOTS, zorder=7)
CASING = dict(color="white", lw=4.4, zorder=6)
BOX = dict(boxstyle="round,pad=0.2", facecolor="white", edgecolor="none", alpha=0.85)


def sheet(title, frame=(0.04, 0.2, 0.64, 0.7)):
    """A letter page lying down: the map's frame (left, bottom, width, height) and room for the legend on its right."""
    figure = plt.figure(figsize=(11, 8.5), dpi=100)
    figure.text(0.04, 0.965, textwrap.fill(title, 86), fontsize=14, fontweight="bold", va="top")
    return figure, figure.add_axes(frame)


def relief(frame, ground, transform):
    """Grey relief, lit from the north-west, heights drawn six times."""
    light = LightSource(azdeg=315, altdeg=45)
    shade = light.hillshade(ground, vert_exag=6, dx=transform.a, dy=-transform.e)
    rows, cols = ground.shape
    extent = (transform.c, transform.c + cols * transform.a, transform.f + rows * transform.e, transform.f)
    frame.imshow(shade, cmap="gray", vmin=-0.6, vmax=1.0, extent=extent, interpolation="bilinear")


def standing(frame, land, code):
    """A parcel filled by its standing."""
    fill, hatch, *_ = STANDING[code]
    for part in shapely.get_parts(land):
        frame.add_patch(
            Polygon(np.asarray(part.exterior.coords), fc=fill, hatch=hatch, ec="#333333", lw=0.6, alpha=0.75, zorder=1.5)
        )


def draw_lines(frame, lines, style):
    """Lines, or the limits of areas, in one style; what two of them share is drawn once."""
    areas = lines.geom_type.str.contains("Polygon").any()
    parts = shapely.get_parts(shapely.line_merge((lines.boundary if areas else lines).union_all()))
    frame.add_collection(LineCollection([np.asarray(part.coords) for part in parts], **style), autolim=False)


def waterways(frame, reaches):
    """Mapped waterways by class, each with an arrow downstream; what is no lawful outlet is a thin dashed line."""
    for kind, lines in reaches.groupby("class"):
        style, _ = WATERWAYS.get(kind, (DITCH, ""))
        draw_lines(frame, lines.geometry, style)
        for line in lines.geometry[lines.length > 200]:
            arrow(frame, line, style["color"])


def arrow(frame, line, colour):
    """An arrow head in the middle of a line."""
    tail, head = (line.interpolate(line.length / 2 + step) for step in (-10, 10))
    frame.annotate(
        "", (head.x, head.y), (tail.x, tail.y), arrowprops=dict(arrowstyle="-|>", color=colour, lw=1.5), zorder=5
    )


def label(frame, land, words):
    """Words in the middle of the widest part of a piece of land."""
    at = shapely.maximum_inscribed_circle(land).coords[0]
    frame.annotate(words, at, fontsize=9, ha="center", va="center", bbox=BOX, zorder=9)


def number(frame, at, words):
    """A numbered disc beside a point."""
    disc = dict(boxstyle="circle,pad=0.25", facecolor="white", edgecolor="black")
    frame.annotate(
        words, (at.x, at.y), xytext=(12, 10), textcoords="offset points", fontsize=8, fontweight="bold", ha="center",
        va="center", bbox=disc, zorder=10,
    )


def paths(frame, lines):
    """Water of fields: dotted black on white, a square where it starts, a diamond where it ends."""
    draw_lines(frame, lines, CASING)
    draw_lines(frame, lines, PATH)
    for line in lines:
        for at, shape in ((0, "s"), (-1, "D")):
            frame.plot(*line.coords[at], shape, ms=8, mfc="white", mec="black", mew=1.5, zorder=8)


def look_at(frame, bounds, margin=0.06):
    """Fit the frame around what it must show, without distorting it."""
    west, south, east, north = bounds
    position = frame.get_position(original=True)
    page_width, page_height = frame.figure.get_size_inches()
    shape = position.width * page_width / (position.height * page_height)
    width = max(east - west, (north - south) * shape) * (1 + margin)
    x, y = (west + east) / 2, (south + north) / 2
    height = width / shape
    frame.set(xlim=(x - width / 2, x + width / 2), ylim=(y - height / 2, y + height / 2), aspect="equal")
    frame.set(xlabel="", ylabel="", xticks=[], yticks=[])


def furniture(figure, frame, entries, run, extra=()):
    """North arrow and legend beside the frame, scale bar and sources below it, and the caution."""
    figure.text(0.72, 0.855, "▲\nN", fontsize=15, ha="center", linespacing=0.9)
    figure.text(0.74, 0.865, "grid north", fontsize=8)
    figure.legend(
        handles=entries, loc="upper left", bbox_to_anchor=(0.69, 0.84), fontsize=8.5, frameon=False, handlelength=3.2,
        handleheight=1.4, labelspacing=0.9,
    )
    scale_bar(figure, frame)
    settings = run["settings"]
    digest = hashlib.sha256(json.dumps(settings, sort_keys=True).encode()).hexdigest()[:12]
    sources = ", ".join(source["name"] for source in run["inputs"])
    notes = [
        f"{settings['crs']}; heights in metres above the datum of the elevation; white: no elevation. {settings['case']}: {sources}. "
        f"Fallwright {run['version']}, settings {digest}, drawn {date.today():%Y-%m-%d}. Page 1 of 1.",
        *extra,
        run["caution"],
    ]
    wrapped = "\n".join(textwrap.fill(note, 195) for note in notes)
    figure.text(0.04, 0.02, wrapped, fontsize=7.5, va="bottom", linespacing=1.35)


def scale_bar(figure, frame):
    """A bar of a round length under the frame's left corner."""
    west, east = frame.get_xlim()
    length = max(l for l in (50, 100, 200, 500, 1000) if l <= (east - west) / 4)
    position = frame.get_position(original=True)
    width = position.width * length / (east - west)
    for half, colour in ((0, "black"), (1, "white")):
        figure.add_artist(
            Rectangle((position.x0 + half * width / 2, position.y0 - 0.022), width / 2, 0.008, fc=colour, ec="black")
        )
    figure.text(position.x0 + width + 0.008, position.y0 - 0.024, f"{length} m", fontsize=9)


def legend_line(style, words, **kwargs):
    return Line2D([], [], label=textwrap.fill(words, 38), **style, **kwargs)


def legend_area(fill, hatch, words):
    return Patch(facecolor=fill, hatch=hatch, edgecolor="#333333", label=textwrap.fill(words, 38))
