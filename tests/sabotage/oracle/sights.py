"""Where the oracle looks: exact places on either side of every wall, on faces, in openings, in the
trench and in the waste, each with what a change there means."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.finished_surface import bevelled
from knifecam.curve import Curve, circle, place_at, resample, signed_distance
from knifecam.shop import Order
from tests.sabotage.oracle.harm import HARMFUL_WALL, HARMLESS_WALL, SKIN

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

(
    SOLID, SOLID_NEAR, VOID, VOID_NEAR, FLAT, BEVEL, GROUND, TRENCH, WASTE, TAB, BESIDE, NECK, MET,
    RELIEVED,
) = range(14)  # fmt: skip
"""What a sight is for. Within a wall by what is harmful, and by what is harmless; outside it by the
same; on the blade's flats; on bevels and plunges; inside bores and slots; in the trench; in its
outer part and the waste beyond; across a tab; beside an opening's relief, where metal must stay;
along a tab's neck; anywhere, only for what a cutter meets there; within an opening's wall as
`SOLID`, where side B opens it wider: no face of the blade is there, but a floor of the relief."""

ALONG = 0.3
"""mm between sights along a wall."""

LATTICE = {FLAT: 1.5, BEVEL: 0.35, GROUND: 0.5, WASTE: 0.9}
"""mm between sights of a face, on a lattice askew to X and Y."""

BESIDE_CORNER = (-0.2, -0.1, -0.04, -0.015, 0.015, 0.04, 0.1, 0.2)
"""mm along a wall from its corners: further sights, since a tip may be lost over less than `ALONG`."""

ASKEW = 0.2637
"""rad"""

OFF_WALL = 0.1
"""mm: sights of a face keep this far off walls, whose own sights see more."""


LANES = (0.2, 0.35, 0.5, 0.65, 0.8)
"""Shares of the trench's width where its ground is looked at: no lane of a cutter is narrower."""

OUTER = 0.85
"""Share of the trench's width beyond which its ground is waste."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Sights:
    """Places (n,) mm of the part, what each is for, its station along the outline (NaN where it
    belongs to none), and ``toward`` (n, 2): unit vectors from a wall to where a cutter stands."""

    x: Floats
    y: Floats
    role: Ints
    station: Floats
    toward: Floats

    def __len__(self) -> int:
        return len(self.x)

    def joined(self, more: Sights) -> Sights:
        """Return them and more after them."""
        return Sights(
            **{
                name: np.concatenate([getattr(self, name), getattr(more, name)])
                for name in self.__dataclass_fields__
            }
        )

    def with_more(
        self, points: Floats, role: int, station: Floats | None = None, toward: Floats | None = None
    ) -> Sights:
        """Return them with further ones."""
        count = len(points)
        return self.joined(
            Sights(
                x=points[:, 0],
                y=points[:, 1],
                role=np.full(count, role),
                station=np.full(count, np.nan) if station is None else station,
                toward=np.zeros((count, 2)) if toward is None else toward,
            )
        )


def sights_of(order: Order) -> Sights:
    """Return all sights of an order but those of its tabs, whose places only a cut shows."""
    none = np.zeros(0)
    seen = Sights(x=none, y=none, role=none.astype(int), station=none, toward=np.zeros((0, 2)))
    outline = order.blade.outline.counter_clockwise()
    seen = _along(seen, outline, inward=1.0, stations=True)
    relief = _relief(order)
    for hole in holes_of(order):
        within = RELIEVED if relief > HARMFUL_WALL else SOLID
        seen = _along(seen, hole.counter_clockwise(), inward=-1.0, stations=False, within=within)
        seen = _relieved(seen, hole.counter_clockwise(), relief)
    for notch in notches_of(order):
        seen = _along(seen, notch.counter_clockwise(), inward=-1.0, stations=False, of=outline)
    width = order.trench.width
    for share in LANES:
        stations, points, normals = _placed(outline)
        seen = seen.with_more(points + normals * width * share, TRENCH, stations)
    return _faces(seen, order, outline)


def holes_of(order: Order) -> list[Curve]:
    """Return the walls of all bores, slots and reference bores."""
    bores = (*order.blade.bores, *order.setup.registration.bores)
    return [circle(b.centre, b.diameter) for b in bores] + [s.outline for s in order.blade.slots]


def notches_of(order: Order) -> list[Curve]:
    """Return the circles of all notches, part of each of which is a wall of the blade."""
    return [circle(c, row.diameter) for row in order.blade.jimping for c in row.centres]


def _placed(curve: Curve) -> tuple[Floats, Floats, Floats]:
    """Return stations, points and outward normals of a counter-clockwise curve."""
    stations, _, _ = resample(curve, min(ALONG, curve.length / 24))
    corners = curve.stations[:-1][curve.corners]
    close = (corners[:, None] + np.array(BESIDE_CORNER)).ravel() % curve.length
    stations = np.union1d(stations, close)
    points, headings = place_at(curve, stations)
    return stations, points, np.column_stack([np.sin(headings), -np.cos(headings)])


def _along(
    seen: Sights, curve: Curve, *, inward: float, stations: bool, of: Curve | None = None,
    within: int = SOLID,
) -> Sights:  # fmt: skip
    """Return the sights with those on both sides of a wall; ``inward`` 1 where the blade is inside.

    A sight that the curve's other stretches put on the wrong side, as in tight corners, is left out,
    and so is one that does not lie well inside the curve that the wall is part ``of``. ``within`` is
    the role of those within it by what is harmful.
    """
    at, points, normals = _placed(curve)
    rings = ((within, HARMFUL_WALL), (SOLID_NEAR, HARMLESS_WALL), (VOID, -HARMFUL_WALL),
             (VOID_NEAR, -HARMLESS_WALL))  # fmt: skip
    for role, depth in rings:
        places = points - inward * depth * normals
        true = np.abs(signed_distance(places, curve) * inward - depth) < 1e-6
        if of is not None:
            true &= signed_distance(places, of) > SKIN
        own = at if stations else np.full(len(at), np.nan)
        seen = seen.with_more(places[true], role, own[true], inward * normals[true])
    return seen


def _relieved(seen: Sights, curve: Curve, relief: float) -> Sights:
    """Return the sights with those beside an opening's wall where side B opens it wider."""
    _, points, normals = _placed(curve)
    for role, depth in ((BESIDE, HARMFUL_WALL), (SOLID_NEAR, HARMLESS_WALL)):
        if relief > 0.0:
            seen = seen.with_more(points + (relief + depth) * normals, role, None, -normals)
    return seen


def lattice(bounds: tuple[float, float, float, float], apart: float) -> Floats:
    """Return points (n, 2) in a box, ``apart`` mm from each other on a lattice askew to it."""
    low_x, low_y, high_x, high_y = bounds
    half = np.hypot(high_x - low_x, high_y - low_y) / 2 + apart
    steps = np.arange(-half, half, apart)
    u, v = (grid.ravel() for grid in np.meshgrid(steps, steps))
    turn = np.exp(1j * ASKEW) * (u + 1j * v)
    x, y = turn.real + (low_x + high_x) / 2, turn.imag + (low_y + high_y) / 2
    inside = (x > low_x) & (x < high_x) & (y > low_y) & (y < high_y)
    return np.column_stack([x[inside], y[inside]])


def _off_walls(order: Order, points: Floats) -> Bools:
    """Return which points of the blade lie off its walls and their edge breaks."""
    off = OFF_WALL + max((b.width for b in order.blade.breaks), default=0.0)
    within = signed_distance(points, order.blade.outline) > off
    for hole in holes_of(order):
        within &= signed_distance(points, hole) < -off - _relief(order)
    return np.asarray(within)


def _relief(order: Order) -> float:
    """Return how far past an opening's wall side B opens its skin, mm."""
    return order.boring.oversize / 2 if order.boring.opening == "skin" else 0.0


def on_bevels(order: Order, points: Floats) -> Bools:
    """Return which points lie on bevels or plunges of either side, off the blade's walls."""
    ground = bevelled(order.blade, points, "A") | bevelled(order.blade, points, "B")
    return np.asarray(ground & _off_walls(order, points))


def _faces(seen: Sights, order: Order, outline: Curve) -> Sights:
    plate, holes = order.setup.plate.bounds, holes_of(order)

    def add(role: int, points: Floats) -> None:
        nonlocal seen
        seen = seen.with_more(points, role)

    for role in (FLAT, BEVEL):
        points = lattice(outline.bounds, LATTICE[role])
        points = points[_off_walls(order, points)]
        add(role, points[on_bevels(order, points) == (role == BEVEL)])
    for hole in holes:
        points = lattice(hole.bounds, LATTICE[GROUND])
        add(GROUND, points[signed_distance(points, hole) > OFF_WALL])
    points = lattice(plate, LATTICE[WASTE])
    points = points[signed_distance(points, outline) < -OUTER * order.trench.width]
    for hole in holes:
        points = points[signed_distance(points, hole) < -OFF_WALL]
    add(WASTE, points)
    return seen
