"""Drawings of knives as makers draw them, each from its seed, with what stands beside the knife.

Every stroke of a drawing is one entity of the file. Of each drawing it is known which outline is
the knife's.
"""

from __future__ import annotations

import io
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from knifecam.curve import Curve
from knifecam.drawing import Drawing, read_drawing

Place = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Stroke:
    """An entity: its layer, vertices with bulges, and whether it is closed."""

    layer: str
    points: Sequence[Place]
    bulges: Sequence[float] = ()
    closed: bool = False


@dataclass(frozen=True, eq=False)
class Knife:
    """The strokes of a drawing, and the knife's outline as an area."""

    name: str
    strokes: tuple[Stroke, ...]
    outline: shapely.Polygon

    @property
    def layers(self) -> tuple[str, ...]:
        return tuple(sorted({stroke.layer for stroke in self.strokes}))


def area_of(curve: Curve) -> shapely.Polygon:
    return shapely.Polygon(curve.points(1e-3))


def text_of(strokes: Sequence[Stroke]) -> str:
    """Return a DXF of the strokes, all of them polylines."""
    pairs: list[tuple[int, object]] = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER")]
    pairs += [(1, "AC1015"), (9, "$INSUNITS"), (70, 4), (0, "ENDSEC")]
    pairs += [(0, "SECTION"), (2, "ENTITIES")]
    for k, one in enumerate(strokes):
        bulges = one.bulges or [0.0] * len(one.points)
        pairs += [(0, "LWPOLYLINE"), (5, f"{k + 1:X}"), (100, "AcDbEntity"), (8, one.layer)]
        pairs += [(100, "AcDbPolyline"), (90, len(one.points)), (70, int(one.closed))]
        for (x, y), bulge in zip(one.points, bulges, strict=True):
            pairs += [(10, repr(float(x))), (20, repr(float(y))), (42, repr(float(bulge)))]
    pairs += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def drawing_of(strokes: Sequence[Stroke]) -> Drawing:
    return read_drawing(io.StringIO(text_of(strokes)), strict=False)


def demo(path: Path) -> Knife:
    """Return the strokes of a demo; its outline is all that lies on layer PROFILE."""
    drawing = read_drawing(path)
    strokes = tuple(
        Stroke(p.origin.layer, p.vertices.tolist(), p.bulges.tolist(), p.closed)
        for p in drawing.pieces
    )
    (outline,) = (c for c in drawing.loops if c.layers == ("PROFILE",))
    return Knife(path.stem, strokes, area_of(outline.curve))


def knife(seed: int) -> Knife:
    """Return the drawing of a seed."""
    chance = random.Random(seed)
    points, bulges, edge = _profile(chance)
    ring = Curve(np.array(points), np.array(bulges), True)
    strokes = _outline(chance, points, bulges, edge)
    low_x, low_y, high_x, high_y = ring.bounds
    for beside in chance.sample(BESIDE, chance.choice([0, 1, 1, 2, 3])):
        strokes += beside(chance, (low_x, low_y, high_x, high_y), points)
    chance.shuffle(strokes)
    return Knife(f"seed {seed}", tuple(strokes), area_of(ring))


def _profile(chance: random.Random) -> tuple[list[Place], list[float], set[int]]:
    """Return a knife's corners and bulges, and which of its pieces are the edge."""
    long, high = chance.uniform(120, 300), chance.uniform(18, 45)
    heel = long * chance.uniform(0.3, 0.5)
    handle = high * chance.uniform(0.5, 0.9)
    belly = long * chance.uniform(0.75, 0.9)
    points = [
        (0.0, high - handle), (heel, high - handle), (heel + 3, 0.0), (belly, 0.0),
        (long, high * chance.uniform(0.3, 0.9)), (long * 0.7, high), (0.0, high * 0.97),
    ]  # fmt: skip
    points = [(round(x, 3), round(y, 3)) for x, y in points]
    bulges = [0.0, 0.0, 0.0, chance.choice([0.0, 0.08]), 0.0, chance.choice([0.0, 0.01]), 0.0]
    return points, bulges, {2, 3}


def _outline(
    chance: random.Random, points: list[Place], bulges: list[float], edge: set[int]
) -> list[Stroke]:
    """Return the outline's strokes: line by line or run by run, its edge a layer of its own or not."""
    way = chance.choice(["one", "lines", "edge", "edge", "edge lines", "any"])
    count = len(points)
    if way == "one":
        return [Stroke("PROFILE", points, bulges, closed=True)]
    layers = {
        "lines": ["PROFILE"] * count,
        "edge": ["EDGE" if k in edge else "PROFILE" for k in range(count)],
        "edge lines": ["EDGE" if k in edge else "PROFILE" for k in range(count)],
        "any": [chance.choice(["0", "PROFILE", "EDGE", "BACK"]) for _ in range(count)],
    }[way]
    made = []
    if way == "edge":  # each layer's run is one polyline
        first = min(edge)
        last = max(edge) + 1
        at = [k % count for k in range(first, last + 1)]
        rest = [k % count for k in range(last, first + count + 1)]
        made = [
            Stroke(name, [points[k] for k in run], [*[bulges[k] for k in run[:-1]], 0.0])
            for name, run in (("EDGE", at), ("PROFILE", rest))
        ]
    else:
        made = [
            Stroke(layers[k], [points[k], points[(k + 1) % count]], [bulges[k], 0.0])
            for k in range(count)
        ]
    if way == "lines" and chance.random() < 0.5:  # the edge once more, as the demos have it
        made += [
            Stroke("EDGE", [points[k], points[(k + 1) % count]], [bulges[k], 0.0]) for k in edge
        ]
    return made


Box = tuple[float, float, float, float]


def _rectangle(layer: str, low_x: float, low_y: float, high_x: float, high_y: float) -> Stroke:
    corners = [(low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)]
    return Stroke(layer, corners, closed=True)


def _across(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    """A rectangle as long as the knife and not as high: its handle's, or its blank's."""
    a, b, c, d = box
    low, high = chance.uniform(-3, 8), chance.uniform(0.4, 0.8)
    return [_rectangle("HELP", a, b + low, c, b + low + high * (d - b))]


def _blank(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    """The blank's, the plate's or the sheet's edge round the knife."""
    a, b, c, d = box
    m = chance.choice([0.5, 10, 25, 200, 500])
    return [_rectangle("SHEET", a - m, b - m, c + m, d + m)]


def _inside(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    a, b, c, d = box
    middle, half = d - 0.25 * (d - b), 0.1 * (d - b)
    return [
        _rectangle(
            "HELP", a + 2, middle - half, a + (c - a) * chance.uniform(0.3, 0.65), middle + half
        )
    ]


def _at_tip(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    """A triangle at the tip, inside of the knife or over it."""
    (x, y), m = points[4], chance.choice([0.0, -0.8, 2.0])
    return [Stroke("TIP", [(x + m, y), (x - 12, y - 3), (x - 12, y + 2)], closed=True)]


def _axis(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    a, b, c, d = box
    over = chance.choice([-5, 5, 20])
    return [Stroke("AXIS", [(a - over, (b + d) / 2 + 1), (c + over, (b + d) / 2 + 1)])]


def _plunge(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    x, y = points[2]
    return [Stroke("PLUNGE", [(x + 0.5, y - chance.choice([0, 2])), (x + 3, y + 14)])]


def _keep(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    """Along the edge a little off it, or a loop round the tip."""
    (x, y), (u, v), (tip_x, tip_y) = points[2], points[3], points[4]
    if chance.random() < 0.5:
        return [Stroke("KEEP", [(x, y - 1), (u, v - 1)])]
    return [_rectangle("KEEP", tip_x - 30, tip_y - 8, tip_x + 6, tip_y + 8)]


def _tabs(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    (x, y), (u, v) = points[5], points[6]
    return [
        Stroke(
            "TABS", [(x + t * (u - x), y + t * (v - y) - 1), (x + t * (u - x), y + t * (v - y) + 1)]
        )
        for t in (0.3, 0.6)
    ]


def _bores(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    a, b, _, d = box
    layer = chance.choice(["BORES", "BORES", "EDGE", "PROFILE"])
    r, y = 2.5, d - 0.25 * (d - b)
    return [
        Stroke(layer, [(a + x - r, y), (a + x + r, y)], [1.0, 1.0], closed=True)
        for x in (10, 40)[: chance.choice([1, 2])]
    ]


def _cell(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    a, _, _, d = box
    return [Stroke("CELL", [(a, d + 20), (a + 8, d + 20), (a + 4, d + 26)], closed=True)]


def _frame(chance: random.Random, box: Box, points: list[Place]) -> list[Stroke]:
    """Another form round the knife, as where it is sawn out."""
    ring = shapely.Polygon(points).buffer(4, join_style="mitre")
    return [Stroke("SAW", list(ring.exterior.coords)[:-1], closed=True)]


BESIDE = (
    _across, _blank, _inside, _at_tip, _axis, _plunge, _keep, _tabs, _bores, _bores, _cell, _frame,
)  # fmt: skip
