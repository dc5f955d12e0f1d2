"""Ten outlines of our own making, each with something that trips a planner or a reader.

Every function returns a `Blade`: part frame, mm, edge toward -Y, tip toward +X. Inner radii are
2.2 mm and more except where the name says otherwise; webs between openings, and from them to the
outline, are 2 mm and more. `DRAWN` holds them all by name, `as_dxf` writes one as a maker's
program would, in the unit the name asks for.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import ezdxf
import numpy as np

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import Curve, circle
from knifecam.curve.curve import Floats

INCH = 25.4

Corner = tuple[float, float, float]
"""x, y, and the radius that rounds the corner, mm."""


def rounded(corners: list[Corner]) -> Curve:
    """Return the counter-clockwise polygon with arcs in its corners, tangent to both sides."""
    points = np.array([(x, y) for x, y, _ in corners])
    vertices, bulges = [], []
    for k, (_, _, radius) in enumerate(corners):
        toward = points[k] - points[k - 1]
        away = points[(k + 1) % len(points)] - points[k]
        u, v = toward / np.hypot(*toward), away / np.hypot(*away)
        turn = math.atan2(u[0] * v[1] - u[1] * v[0], float(u @ v))
        run = radius * math.tan(abs(turn) / 2)
        if vertices and float((points[k] - run * u - vertices[-1]) @ u) < -1e-9:
            raise ValueError(f"the radii at corners {k - 1} and {k} do not fit")
        if radius:
            vertices += [points[k] - run * u, points[k] + run * v]
            bulges += [math.tan(turn / 4), 0.0]
        else:
            vertices.append(points[k])
            bulges.append(0.0)
    return _without_doubles(np.array(vertices), np.array(bulges))


def _without_doubles(vertices: Floats, bulges: Floats) -> Curve:
    """Return the curve without lines that two arcs have left no length."""
    ends = np.roll(vertices, -1, axis=0)
    keep = np.hypot(*(ends - vertices).T) > 1e-9
    return Curve(vertices[keep], bulges[keep])


def bores(*rows: tuple[float, float, float]) -> tuple[Bore, ...]:
    """Return bores from (x, y, diameter), named by x, then y, as the reader names them."""
    return tuple(
        Bore(name=f"B{k}", centre=(x, y), diameter=diameter)
        for k, (x, y, diameter) in enumerate(sorted(rows), 1)
    )


def long_hole(
    name: str, start: tuple[float, float], end: tuple[float, float], width: float
) -> Slot:
    """Return a slot with round ends whose centres are ``start`` and ``end``."""
    first, last = np.array(start), np.array(end)
    along = (last - first) / np.hypot(*(last - first))
    across = np.array([-along[1], along[0]]) * width / 2
    vertices = np.array([first - across, last - across, last + across, first + across])
    return Slot(name=name, outline=Curve(vertices, np.array([0.0, 1.0, 0.0, 1.0])))


def concave() -> Blade:
    """A hawk's bill: the edge is hollow throughout, the back bows over it."""
    outline = rounded(
        [
            (-100, -14, 7), (-60, -9, 80), (-8, -13, 6), (0, -7, 5), (48, 0, 60), (84, -13, 0),
            (78, 4, 30), (40, 13, 60), (-30, 13, 200), (-100, 8, 7),
        ]
    )  # fmt: skip
    return Blade(outline=outline, thickness=3.0, bores=bores((-25, 1, 4), (-80, -3, 4)))


def recurved() -> Blade:
    """Belly, recurve, belly: the edge turns both ways, never tighter than 30 mm."""
    outline = rounded(
        [
            (-112, -15, 7), (-60, -12, 120), (-6, -15, 5), (4, -11, 6), (38, -9, 60),
            (82, -16, 40), (128, 3, 0), (70, 12, 200), (-40, 12, 300), (-112, 7, 7),
        ]
    )  # fmt: skip
    return Blade(outline=outline, thickness=4.0, bores=bores((-30, -1, 5), (-90, -4, 5)))


def needle_tip() -> Blade:
    """A stiletto: edge and back meet at 9 degrees, 0.6 mm wide 4 mm behind the point."""
    outline = rounded(
        [(-105, -9, 8), (-8, -9, 12), (6, -6, 12), (120, 0, 0), (0, 12, 60), (-105, 9, 8)]
    )
    return Blade(outline=outline, thickness=3.0, bores=bores((-25, 0, 4), (-85, 0, 4)))


def tiny() -> Blade:
    """A carving blade 60 mm long and 9 mm wide, with pins of 2.5 mm."""
    outline = rounded(
        [(-32, -4, 2.5), (-2, -4, 6), (6, -2.5, 8), (28, 3.5, 0), (12, 5, 25), (-32, 4, 2.5)]
    )
    return Blade(outline=outline, thickness=2.0, bores=bores((-12, 0, 2.5), (-25, 0, 2.5)))


def long() -> Blade:
    """A slicer 400 mm long."""
    outline = rounded(
        [
            (-130, -14, 8), (-70, -10, 200), (-4, -10, 7), (0, -20, 1), (215, -20, 180),
            (270, -2, 0), (190, 12, 600), (-40, 12, 900), (-130, 8, 8),
        ]
    )  # fmt: skip
    return Blade(
        outline=outline,
        thickness=2.5,
        bores=bores((-22, 1, 5), (-65, 0, 5), (-110, -2, 5)),
    )


def many_holed() -> Blade:
    """A skeleton handle: 22 bores in three sizes, two slots."""
    outline = rounded(
        [
            (-125, -16, 9), (-70, -14, 150), (-6, -16, 6), (3, -10, 6), (70, -10, 90),
            (105, 6, 0), (50, 14, 250), (-125, 14, 9),
        ]
    )  # fmt: skip
    row = [(-112 + 10 * k, 9, 4.0) for k in range(8)] + [(-108 + 10 * k, -9, 4.0) for k in range(8)]
    row += [
        (-116, 0, 6.35),
        (-22, 6, 5.0),
        (-22, -6, 5.0),
        (-12, 0, 5.0),
        (-2, 8, 4.0),
        (8, 8, 4.0),
    ]
    return Blade(
        outline=outline,
        thickness=3.5,
        bores=bores(*row),
        slots=(
            long_hole("S1", (-102, 0), (-76, 0), 7.0),
            long_hole("S2", (-64, 0), (-38, 0), 7.0),
        ),
    )


def inch_dimensioned() -> Blade:
    """A paring knife laid out in inches: 7 by 7/8, stock 3/32, bores of 3/16."""
    corners = [
        (-3.5, -0.375, 0.25), (-1.75, -0.25, 4.0), (-0.125, -0.25, 0.25), (0.0, -0.5, 0.0625),
        (2.25, -0.5, 5.0), (3.5, 0.0, 0.0), (2.0, 0.375, 10.0), (-1.5, 0.375, 12.0),
        (-3.5, 0.25, 0.25),
    ]  # fmt: skip
    outline = rounded([(x * INCH, y * INCH, r * INCH) for x, y, r in corners])
    places = [(-0.75, 0.0625), (-2.75, 0.0)]
    return Blade(
        outline=outline,
        thickness=3 / 32 * INCH,
        bores=bores(*((x * INCH, y * INCH, 3 / 16 * INCH) for x, y in places)),
    )


def short_lines_3000() -> Blade:
    """A skinner traced by a machine: 3,000 lines of about 0.15 mm, to four decimals."""
    smooth = rounded(
        [
            (-105, -15, 9), (-55, -11, 60), (-4, -14, 8), (8, -10, 12), (60, -16, 40),
            (98, 8, 8), (40, 16, 150), (-105, 10, 9),
        ]
    )  # fmt: skip
    stations = np.arange(3000) / 3000 * smooth.length
    piece = np.searchsorted(smooth.stations, stations, side="right") - 1
    share = (stations - smooth.stations[piece]) / smooth.lengths[piece]
    rim = [smooth.piece_points(int(k), [t])[0] for k, t in zip(piece, share, strict=True)]
    return Blade(
        outline=Curve(np.round(rim, 4), np.zeros(3000)),
        thickness=3.0,
        bores=bores((-20, 0, 5), (-85, -2, 5)),
    )


def sheepsfoot() -> Blade:
    """A straight edge, and a back that falls to it in one arc."""
    outline = rounded(
        [
            (-95, -12, 7), (-8, -12, 7), (0, -16, 1.5), (90, -16, 0), (88, -11, 5), (62, 12, 60),
            (-95, 12, 7),
        ]
    )  # fmt: skip
    return Blade(outline=outline, thickness=2.5, bores=bores((-18, 0, 4), (-78, 0, 4)))


def choil_finger_groove() -> Blade:
    """A half-round choil of 3 mm before the edge and a deep groove for the finger behind it."""
    outline = rounded(
        [
            (-110, -17, 8), (-84, -12, 30), (-50, -16, 40), (-34, -16, 8), (-26, -4, 9),
            (-14, -4, 9), (-6, -16, 5), (0, -16, 2), (1, -9.5, 3), (7, -9.5, 3), (8, -14, 1),
            (60, -14, 70), (98, 4, 0), (46, 13, 300), (-110, 11, 8),
        ]
    )  # fmt: skip
    return Blade(
        outline=outline, thickness=4.5, bores=bores((-20, 5, 5), (-62, -1, 5), (-98, -2, 5))
    )


DRAWN: dict[str, Callable[[], Blade]] = {
    made.__name__: made
    for made in (
        concave, recurved, needle_tip, tiny, long, many_holed, inch_dimensioned, short_lines_3000,
        sheepsfoot, choil_finger_groove,
    )
}  # fmt: skip


def as_dxf(blade: Blade, path: Path, *, inches: bool = False) -> Path:
    """Write a blade as lines, arcs and circles on layers PROFILE, BORES and SLOTS."""
    unit = INCH if inches else 1.0
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 1 if inches else 4
    space = document.modelspace()
    for layer, curves in (
        ("PROFILE", [blade.outline]),
        ("SLOTS", [slot.outline for slot in blade.slots]),
        ("BORES", [circle(bore.centre, bore.diameter) for bore in blade.bores]),
    ):
        for curve in curves:
            _draw(space, curve, layer, unit)
    document.saveas(path)
    return path


def _draw(space: ezdxf.layouts.Modelspace, curve: Curve, layer: str, unit: float) -> None:
    attributes = {"layer": layer}
    if layer == "BORES":
        space.add_circle(curve.vertices.mean(axis=0) / unit, curve.radii[0] / unit, attributes)
        return
    for k in range(len(curve)):
        start, end = curve.starts[k] / unit, curve.ends[k] / unit
        if not curve.is_arc[k]:
            space.add_line(start, end, attributes)
            continue
        centre = curve.centres[k] / unit
        low, high = (math.degrees(math.atan2(*(p - centre)[::-1])) for p in (start, end))
        if curve.angles[k] < 0:
            low, high = high, low
        space.add_arc(centre, curve.radii[k] / unit, low, high, dxfattribs=attributes)
