"""Draw the four demo knives, as a maker would: lines and arcs, tangent where the hand goes.

python examples/draw_demos.py [FOLDER]

Without a folder the files beside this script are written anew, with the same bytes each time.
Millimetres; the edge lies toward -Y, the tip toward +X, the plunge or heel near x = 0. All knives
are invented: wardens of Lake Orrin carry the first, a galley afloat keeps the second, a bean grower
the third, and nobody hunts with the fourth. Layer EDGE holds the edges, PLUNGE the lines across the
bevels where they end (BACK that of the false edge).
"""

from __future__ import annotations

import itertools
import math
import sys
from pathlib import Path

import ezdxf
from ezdxf import options

Point = tuple[float, float]
Piece = tuple[Point, Point, float]
"""From, to, and the radius: positive where it turns left, negative right, 0 for a line."""

MILLIMETRES = 4
DIGITS = 9

# Corners of a polygon, counter-clockwise from the lower end of the butt, each with the radius
# that rounds it. Where the outline is hollow the radius is at least 4 mm: a 6 mm cutter fits.
FIELD_KNIFE = [
    (-118, -18, 7),  # butt
    (-106, -18, 9),
    (-92, -12, 25),  # behind the palm
    (-62, -15.5, 60),
    (-24, -9.5, 14),  # for the first finger
    (-9, -18, 4.5),  # guard
    (-3, -18, 4),
    (0.5, -12.5, 4),  # plunge
    (80, -12.5, 120),  # belly
    (112, 4, 0),  # tip, a true corner
    (54, 14, 420),
    (-45, 14, 700),
    (-118, 9.5, 8),
]
FIELD_BORES = [(-20, 2, 5), (-57, 0, 5), (-93, -1, 5), (-108.5, -4, 6.35)]

PETTY = [
    (-115, -13, 7),  # butt
    (-66, -9, 150),
    (-4, -9, 7),  # for the first finger
    (0, -18, 1),  # heel
    (105, -18, 260),
    (150, -3, 0),  # tip, a true corner
    (70, 10, 400),
    (-40, 10, 500),
    (-115, 6, 7),
]
PETTY_BORES = [(-24, 0.5, 4), (-98, -3, 4)]
PETTY_SLOT = [(-75, -4, 3), (-47, -4, 3), (-47, 2, 3), (-75, 2, 3)]

NETTING = [
    (-96, -8, 7),  # butt
    (-44, -9.5, 60),
    (-9, -8, 8),  # for the first finger
    (-4, -12, 3),  # heel
    (62, -12, 0),  # tip, a true corner
    (50, 7, 14),  # the back comes down to the edge
    (-30, 9, 200),
    (-96, 8, 7),
]
NETTING_BORES = [(-89, 0, 5)]

HUNTER = [
    (-105, -14, 7),  # butt
    (-30, -10, 14),  # for the first finger
    (-12, -19, 4.5),  # guard
    (-5, -19, 4),
    (1, -12, 5),  # plunge
    (30, -10.5, 70),  # drawn in
    (66, -14, 60),  # belly
    (104, 3, 0),  # tip, a true corner
    (60, 14, 300),
    (-40, 14, 500),
    (-105, 11, 8),
]
HUNTER_BORES = [(-22, 2, 5), (-58, 1, 5), (-92, -1, 6.35)]


def rounded(corners: list[tuple[float, float, float]]) -> list[Piece]:
    """Return the polygon's sides and, in each corner with a radius, the arc tangent to both."""
    points = [(x, y) for x, y, _ in corners]
    leaving, pieces, arcs = [], [], []
    for k, (x, y, radius) in enumerate(corners):
        before, after = points[k - 1], points[(k + 1) % len(points)]
        toward = math.atan2(y - before[1], x - before[0])
        away = math.atan2(after[1] - y, after[0] - x)
        turn = math.remainder(away - toward, 2 * math.pi)
        run = radius * math.tan(abs(turn) / 2)
        start = (x - run * math.cos(toward), y - run * math.sin(toward))
        leaving.append((x + run * math.cos(away), y + run * math.sin(away)))
        arcs.append((start, leaving[-1], math.copysign(radius, turn)))
    for k, arc in enumerate(arcs):
        start, end = leaving[k - 1], arc[0]
        side = (points[k][0] - points[k - 1][0], points[k][1] - points[k - 1][1])
        room = (end[0] - start[0]) * side[0] + (end[1] - start[1]) * side[1]
        if room < -1e-6:
            raise SystemExit(f"the radii at {points[k - 1]} and {points[k]} do not fit")
        if room > 1e-6:
            pieces.append((start, end, 0.0))
        if arc[2]:
            pieces.append(arc)
    return pieces


def draw(space: ezdxf.layouts.Modelspace, piece: Piece, layer: str) -> None:
    """Draw one line or arc; arcs of a DXF run counter-clockwise about their centre."""
    start, end, radius = piece
    if not radius:
        space.add_line(tidy(start), tidy(end), dxfattribs={"layer": layer})
        return
    chord = math.dist(start, end)
    height = math.sqrt(radius**2 - chord**2 / 4) * math.copysign(1.0, radius)
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    x = (start[0] + end[0]) / 2 - height * along[1]
    y = (start[1] + end[1]) / 2 + height * along[0]
    ends = (start, end) if radius > 0 else (end, start)
    low, high = (round(math.degrees(math.atan2(p[1] - y, p[0] - x)) % 360, DIGITS) for p in ends)
    space.add_arc(tidy((x, y)), abs(radius), low, high, dxfattribs={"layer": layer})


def tidy(point: Point) -> Point:
    """Return a point as it is written, without minus zeros."""
    return round(point[0], DIGITS) + 0.0, round(point[1], DIGITS) + 0.0


def save(
    path: Path,
    outline: list[Piece],
    bores: list[tuple[float, float, float]],
    slots: list[list[Piece]],
    marks: dict[str, list[Piece]],
) -> None:
    """Write one drawing; ``marks`` are curves that are not cut, by layer."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = MILLIMETRES
    for layer in ("PROFILE", "BORES", *(["SLOTS"] if slots else []), *marks):
        document.layers.add(layer)
    space = document.modelspace()
    for piece in outline:
        draw(space, piece, "PROFILE")
    for x, y, diameter in bores:
        space.add_circle((x, y), diameter / 2, dxfattribs={"layer": "BORES"})
    for slot in slots:
        for piece in slot:
            draw(space, piece, "SLOTS")
    for layer, pieces in marks.items():
        for piece in pieces:
            draw(space, piece, layer)
    document.saveas(path)


def between(outline: list[Piece], first: float, last: float) -> list[Piece]:
    """Return the pieces of the lower side that begin at or after one x and end at or before one."""
    return [
        (start, end, radius)
        for start, end, radius in outline
        if start[0] < end[0] and start[0] >= first - 1e-9 and end[0] <= last + 1e-9
    ]


def line(*places: Point) -> list[Piece]:
    """Return straight pieces from place to place."""
    return [(a, b, 0.0) for a, b in itertools.pairwise(places)]


def main(folder: Path) -> None:
    """Write all drawings into a folder."""
    options.write_fixed_meta_data_for_testing = True  # no dates, no new identifiers
    field, petty, netting, hunter = map(rounded, (FIELD_KNIFE, PETTY, NETTING, HUNTER))
    save(
        folder / "field-knife-230x32.dxf", field, FIELD_BORES, [],
        {"EDGE": between(field, 0.0, 112.0), "PLUNGE": line((8.5, -10.0), (9.9, 10.0))},
    )  # fmt: skip
    save(
        folder / "petty-150.dxf", petty, PETTY_BORES, [rounded(PETTY_SLOT)],
        {"EDGE": between(petty, 0.0, 150.0), "PLUNGE": line((4.0, -15.0), (4.0, 7.0))},
    )  # fmt: skip
    save(
        folder / "netting-knife-60.dxf", netting, NETTING_BORES, [],
        {"EDGE": between(netting, -3.0, 62.0), "PLUNGE": line((8.0, -9.0), (8.0, 5.0))},
    )  # fmt: skip
    save(
        folder / "hunter-104.dxf", hunter, HUNTER_BORES, [],
        {
            "EDGE": between(hunter, 3.0, 104.0),
            "PLUNGE": line((9.8, -8.0), (11.3, 10.0)),
            "BACK": line((66.0, -4.0), (66.0, 8.0)),
        },
    )  # fmt: skip


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
