"""Which of the things that planners stumble over an order has, measured on the order itself.

    python -m tests.agreement.features 0:300

prints for each kind of order in how many of them each feature stands.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress

import numpy as np
from shapely import Polygon

from knifecam.curve import Curve, place_at
from knifecam.errors import OrderError
from knifecam.shop import Order
from knifecam.shop.cutter_choice import choose_cutters
from tests.agreement.wider_orders import WIDER

WIDEST_CORNER = 3.0
"""mm of radius: wider inner corners are no corners to a cutter of the usual size."""

SHARP = math.radians(5.0)
"""rad: a turn without an arc that is a corner."""

BESIDE = 20.0
"""mm along the outline: a tab so near to an edge's end stands beside its clearing."""

CLOSED = 8.0
"""mm2 of a bay that the trench's outer rim fills, more than its corners alone would."""

SHARE = 0.1
"""Least share of a kind's orders in which each of its features stands."""

EVERYWHERE = (
    "inner corner", "sharp inner corner", "tabs by station", "forced cutter", "inches",
    "relief 0.1 and more", "no relief", "clamps", "screws",
)  # fmt: skip

BELONGING = {
    "good": (*EVERYWHERE, "closing bay", "slot"),
    "detailed": (*EVERYWHERE, "closing bay", "slot", "jimping", "edge breaks", "necks"),
    "bevel": (
        *EVERYWHERE, "dagger", "guard's fillet", "tab beside a clearing", "flat", "hollow",
        "convex", "one-sided",
    ),
}  # fmt: skip
"""Features that belong to each kind of order."""


def inner_corners(curve: Curve, inside: int) -> Iterator[float]:
    """Yield the radii of a curve's inner corners, 0 for sharp ones.

    ``inside`` is -1 for an outline, whose cutters run outside it, and 1 for openings.
    """
    curve = curve.counter_clockwise()
    arcs = curve.is_arc & (np.sign(curve.angles) == inside) & (curve.radii <= WIDEST_CORNER)
    yield from curve.radii[arcs].tolist()
    turn = np.roll(curve.start_headings, -1) - curve.end_headings
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    yield from [0.0] * int((inside * turn > SHARP).sum())


def closing_bay(order: Order) -> bool:
    """Tell whether the trench's outer rim runs past a bay of the outline (against shapely)."""
    blade = Polygon(order.blade.outline.points(0.01))
    width = order.trench.width
    return bool(blade.buffer(width).buffer(-width).difference(blade).area > CLOSED)


def beside_edge(order: Order) -> bool:
    """Tell whether a tab is ordered a few mm past an edge's end."""
    whole = order.blade.outline.length
    ends = [s % whole for b in order.blade.bevels for s in (b.edge.start, b.edge.end)]
    ways = [abs(s - e) % whole for s in order.tabs.stations for e in ends]
    return any(min(way, whole - way) <= BESIDE for way in ways)


def forced_cutter(order: Order) -> bool:
    """Tell whether a stage has another cutter than the one that would be chosen for it."""
    chosen = choose_cutters(
        order.cutters, order.blade, order.setup.registration.bores, necks=order.tabs.neck > 0
    )
    return not {(c.stage, c.cutter) for c in order.cutting} <= set(chosen)


def guards_fillet(order: Order) -> bool:
    """Tell whether an inner corner stands within 8 mm of an edge's end."""
    outline = order.blade.outline.counter_clockwise()
    concave = outline.is_arc & (outline.angles < 0) & (outline.radii <= WIDEST_CORNER)
    places = [outline.piece_points(int(k), [0.5])[0] for k in np.flatnonzero(concave)]
    turn = np.roll(outline.start_headings, -1) - outline.end_headings
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    places += list(outline.ends[turn < -SHARP])
    ends = [s for b in order.blade.bevels for s in (b.edge.start, b.edge.end)]
    near = place_at(outline, ends)[0] if ends else np.zeros((0, 2))
    return any(float(np.hypot(*(near - place).T).min(initial=np.inf)) <= 8.0 for place in places)


TELLS: dict[str, Callable[[Order], bool]] = {
    "tabs by station": lambda order: bool(order.tabs.stations),
    "tab beside a clearing": beside_edge,
    "forced cutter": forced_cutter,
    "inches": lambda order: order.setup.mill.units == "in",
    "no relief": lambda order: order.boring.oversize <= 0.02,
    "relief 0.1 and more": lambda order: order.boring.oversize >= 0.1,
    "clamps": lambda order: bool(order.setup.clamps),
    "screws": lambda order: order.setup.workholding.kind == "bores",
    "closing bay": closing_bay,
    "slot": lambda order: bool(order.blade.slots),
    "dagger": lambda order: len(order.blade.bevels) == 2,
    "guard's fillet": guards_fillet,
    "one-sided": lambda order: any(b.sides != "both" for b in order.blade.bevels),
    "jimping": lambda order: bool(order.blade.jimping),
    "edge breaks": lambda order: bool(order.blade.breaks),
    "necks": lambda order: order.tabs.neck > 0,
}


def features(order: Order) -> set[str]:
    """Return the names of the features that an order has."""
    radii = list(inner_corners(order.blade.outline, -1))
    for slot in order.blade.slots:
        radii += inner_corners(slot.outline, 1)
    found = {name for name, tells in TELLS.items() if tells(order)}
    found |= {"inner corner"} if radii else set()
    found |= {"sharp inner corner"} if 0.0 in radii else set()
    return found | {bevel.profile for bevel in order.blade.bevels}


def tally(kind: str, orders: range) -> Counter[str]:
    """Return in how many orders of a kind each of its features stands."""
    counts: Counter[str] = Counter(dict.fromkeys(BELONGING[kind], 0))
    for index in orders:
        with suppress(OrderError):  # refused where its trench is proposed
            counts.update(features(WIDER[kind](index)) & set(BELONGING[kind]))
    return counts


def main(words: list[str]) -> None:
    """Print the tally of each kind."""
    low, _, high = (words or ["0:300"])[0].partition(":")
    orders = range(int(low), int(high))
    for kind in WIDER:
        counts = tally(kind, orders)
        told = ", ".join(f"{name} {counts[name]}" for name in BELONGING[kind])
        print(f"{kind}, {len(orders)} orders: {told}")


if __name__ == "__main__":
    main(sys.argv[1:])
