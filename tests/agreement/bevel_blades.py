"""Blades with bevels, built in Python, and orders for them as a small shop would place them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.blade import Bevel, Blade, Plunge
from knifecam.curve import Curve, Stretch, polyline, station_of
from knifecam.shop import Cutter, Mill, Order, Plate, Setup, Tabs
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import propose_cutter, propose_cutting, propose_tabs, propose_trench

Point = tuple[float, float]
Corner = tuple[float, float, float]
"""x, y, and the radius in mm that rounds the corner."""


def rounded_polygon(corners: Sequence[Corner]) -> Curve:
    """Return the counter-clockwise polygon with an arc in each corner that has a radius."""
    vertices: list[np.ndarray] = []
    bulges: list[float] = []
    count = len(corners)
    for k, (x, y, radius) in enumerate(corners):
        at = np.array([x, y])
        before, after = (np.array(corners[(k + step) % count][:2]) for step in (-1, 1))
        u, v = (at - before) / np.hypot(*(at - before)), (after - at) / np.hypot(*(after - at))
        turn = math.atan2(u[0] * v[1] - u[1] * v[0], float(u @ v))
        if radius == 0:
            vertices.append(at)
            bulges.append(0.0)
            continue
        run = radius * math.tan(abs(turn) / 2)
        vertices += [at - run * u, at + run * v]
        bulges += [math.tan(turn / 4), 0.0]
    return Curve(np.array(vertices), np.array(bulges))


def between(outline: Curve, first: Point, last: Point) -> Stretch:
    """Return the stretch of the outline from beside one place to beside another."""
    start, end = station_of(outline, np.array([first, last]))
    return Stretch(start=float(start), end=float(end))


def across(*places: Point, radius: float) -> Plunge:
    """Return the plunge along a line through the places."""
    return Plunge(line=polyline(places, closed=False), radius=radius)


def straight_blade(angle_deg: float = 5.0, thickness: float = 3.5, land: float = 0.4) -> Blade:
    """Return a bar of 120 x 24 mm with one straight flat bevel on half of it."""
    outline = polyline([(-60, -12), (60, -12), (60, 12), (-60, 12)])
    bevel = Bevel(
        name="edge", edge=Stretch(start=52.0, end=120.0), angle=math.radians(angle_deg), land=land,
        plunges=(across((0, -30), (0, 30), radius=6.0),),
    )  # fmt: skip
    return Blade(outline=outline, thickness=thickness, bevels=(bevel,))


def shop(
    *, nose: float = 6.0, corner: float = 1.0, ball: float = 5.0, mill: float = 3.0
) -> tuple[Cutter, ...]:
    """Return two end mills, a bull-nose cutter and a ball."""
    return (
        propose_cutter(1, "bull-nose", mill, corner=0.1),
        propose_cutter(2, "bull-nose", mill, corner=0.1),
        propose_cutter(3, "bull-nose", nose, corner=corner),
        propose_cutter(4, "ball", ball),
    )


def ordered(
    blade: Blade, cutters: Sequence[Cutter], *, name: str = "bevelled", border: float = 24.0,
    tabs: Tabs | None = None, flip: str = "X",
) -> Order:  # fmt: skip
    """Return the order of a blade, all else as proposed, in a plate with ``border`` mm around it."""
    x0, y0, x1, y1 = blade.outline.bounds
    low, high = np.floor([x0 - border, y0 - border]), np.ceil([x1 + border, y1 + border])
    thickness = blade.thickness
    plate = Plate(
        length=float(high[0] - low[0]), width=float(high[1] - low[1]), thickness=thickness,
        corner=(float(low[0]), float(low[1])),
        measured=tuple((float(x), float(y), thickness)
                       for x in (low[0], high[0]) for y in (low[1], high[1])),
    )  # fmt: skip
    by_number = {c.number: c for c in cutters}
    cutting = tuple(
        propose_cutting(by_number[n], stage, blade=blade)
        for stage, n in choose_cutters(cutters, blade)
    )
    rough = next(c for c in cutting if c.stage == "rough")
    finish = next(c for c in cutting if c.stage == "finish")
    trench = propose_trench(
        thickness, by_number[rough.cutter], by_number[finish.cutter], rough.allowance, blade.bevels
    )
    return Order(
        name=name, blade=blade, cutters=tuple(cutters), cutting=cutting, trench=trench,
        setup=Setup(plate=plate, mill=Mill(), flip=flip, datum=(plate.corner, plate.corner)),
        tabs=tabs or propose_tabs(thickness, x1 - x0),
    )  # fmt: skip
