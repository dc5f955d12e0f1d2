"""What the mill cannot reach, told before any path is looked for: closed inequalities."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import bare, mm
from knifecam.shop import Order
from knifecam.shop.side_view import Bench, points_on

LARGEST_PLATE = 2.0
"""Travels: a plate longer than this finds no room on the table (common practice)."""


def travel(order: Order) -> Iterator[str]:
    """The trench, the reference bores and the zero that is touched are within the mill's travel."""
    plate, mill = order.setup.plate, order.setup.mill
    for axis, size, name in ((0, plate.length, "length"), (1, plate.width, "width")):
        if not size <= LARGEST_PLATE * mill.travel[axis]:
            yield (
                f"plate.{name}={mm(size):g} must be at most twice the mill's travel in {'XY'[axis]},"
                f" mill.travel[{axis + 1}]={mm(mill.travel[axis]):g}; cut the plate down"
            )
            return
    for side in "AB":
        yield from _of_side(order, side)


def _of_side(order: Order, side: str) -> Iterator[str]:
    mill = order.setup.mill
    low, high = _extent(order, side)
    zero = None if mill.machine_zero is None else mill.machine_zero["AB".index(side)]
    for axis, name in enumerate("XYZ"):
        way, begin = mill.travel[axis], mill.travel_from[axis]
        if not high[axis] - low[axis] <= way + 1e-6:
            what = "trench, reference bores and program zero" if axis < 2 else "rapids and floors"
            yield (
                f"side {side}: {what} span {mm(high[axis] - low[axis]):.2f} in {name}, more than"
                f" mill.travel[{axis + 1}]={mm(way):g}; use a mill of longer travel"
                + (f", or put plate.datum_{side.lower()} nearer to the blade" if axis < 2 else "")
            )
        elif zero is not None:
            first, last = zero[axis] + low[axis], zero[axis] + high[axis]
            if not (first >= begin - 1e-6 and last <= begin + way + 1e-6):
                yield (
                    f"side {side}: {name} runs from {bare(first):.2f} to {mm(last):.2f} in machine"
                    f" coordinates, the mill's from {bare(begin):g} to {mm(begin + way):g}; set"
                    f" mill.machine_zero_{side.lower()} as the mill shows it, and"
                    f" mill.travel_from[{axis + 1}] to the lowest coordinate of the axis"
                    + (" (minus the travel where Z counts down from the top)" if axis == 2 else "")
                )


def _extent(order: Order, side: str) -> tuple[np.ndarray, np.ndarray]:
    """Return what the axes must reach at least on a side, seen from its program zero, (3,) each."""
    setup, bench = order.setup, Bench(order=order, side=side)
    index = "AB".index(side)
    rough = order.cuttings("rough")
    beside = order.trench.width - min((order.cutter(c.cutter).radius for c in rough), default=0.0)
    x0, y0, x1, y1 = order.blade.outline.bounds
    places = [(x0 - beside, y0 - beside), (x1 + beside, y1 + beside), setup.datum[index]]
    if side == "A":
        places += [bore.centre for bore in setup.registration.bores]
    seen = points_on(side, places, setup.flip) - points_on(side, setup.datum[index], setup.flip)
    half = order.blade.thickness / 2
    zero = half if setup.z_zero[index] == "face" else -half
    deep = half - order.trench.meet if side == "A" else -half + order.trench.meet
    low, high = min(0.0, deep - zero), bench.rapid_z - zero
    return np.append(seen.min(axis=0), low), np.append(seen.max(axis=0), high)
