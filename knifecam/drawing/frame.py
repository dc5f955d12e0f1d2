"""Frames that place the flat shapes of a DXF in the XY plane.

Every flat entity is a shape in a frame of its own: an origin and two axes in space. The frame
holds all at once: the entity's coordinate system (OCS), mirrored where its extrusion points
down, every INSERT round it, and the drawing's unit. Where the axes stay square and equally long,
arcs stay arcs; where not, they are pieces of an ellipse.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats
from knifecam.curve.spline import Spline
from knifecam.drawing.follow import Follower
from knifecam.drawing.record import shown_mm
from knifecam.errors import ShapeError
from knifecam.quantity import mm

FLAT = 1e-3
"""mm: an entity that rises by more does not lie in the XY plane."""

FARTHEST = 1e6
"""mm: at this distance a coordinate still resolves 1e-10 mm."""

_ROUNDING = 1e-12
"""As a share: what differs by less differs by rounding."""

_SQUARE = 1e-9
"""Axes of a frame that differ by less, as a share of their length, are square and equal."""


class OffPlaneError(ShapeError):
    """The entity does not lie parallel to the XY plane."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """How the coordinates of a block come into the drawing: ``turn @ p + shift``, mm."""

    turn: Floats
    shift: Floats

    def of(self, points: ArrayLike) -> Floats:
        """Return the placed points (K, 3)."""
        return np.asarray(np.atleast_2d(np.asarray(points, dtype=float)) @ self.turn.T + self.shift)

    def after(self, inner: Placing) -> Placing:
        """Return the placing that does ``inner`` first, then this one."""
        return Placing(turn=self.turn @ inner.turn, shift=self.turn @ inner.shift + self.shift)

    @property
    def size(self) -> tuple[float, float] | None:
        """How many times as large it makes things in the plane and across; None where it does more
        than that, turning within the plane, mirroring and moving."""
        (a, b, e), (c, d, f), (g, h, across) = self.turn.tolist()
        size = float(f"{math.hypot(a, c):.13g}")
        square = abs(a * a + c * c - b * b - d * d) + abs(a * b + c * d) <= _ROUNDING * size * size
        return (size, across) if square and size > 0 and e == f == g == h == 0 else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A plane frame in the XY plane: ``axes @ (x, y) + at`` at the height ``level``, mm."""

    axes: Floats
    at: Floats
    level: float

    @property
    def keeps_circles(self) -> bool:
        """Whether circles stay circles."""
        u, v = self.axes.T
        return bool(
            abs(u @ u - v @ v) <= _SQUARE * max(u @ u, v @ v)
            and abs(u @ v) <= _SQUARE * max(u @ u, v @ v)
        )

    @property
    def hand(self) -> float:
        """1 where counter-clockwise stays so, -1 where the frame is mirrored."""
        u, v = self.axes.T
        return float(np.copysign(1.0, u[0] * v[1] - u[1] * v[0]))

    def of(self, points: ArrayLike) -> Floats:
        """Return the points (K, 2) of the drawing."""
        return np.asarray(np.asarray(points, dtype=float) @ self.axes.T + self.at)


def frame_of(placing: Placing, at: ArrayLike, u: ArrayLike, v: ArrayLike, reach: float) -> Frame:
    """Return the frame of an entity that reaches ``reach`` far along its axes."""
    axes = placing.turn @ np.stack([np.asarray(u, float), np.asarray(v, float)], axis=1)
    place = placing.of(at)[0]
    _refuse_rise(float(np.abs(axes[2]).sum()) * reach)
    return Frame(axes=axes[:2], at=place[:2], level=float(place[2]))


def refuse_far(points: Floats) -> None:
    """Refuse what lies too far from the origin to be followed within 1 um."""
    if not (np.abs(points) <= FARTHEST).all():
        raise ShapeError(
            f"it reaches further than {mm(FARTHEST):.0f} from the origin: move"
            " the drawing nearer to it, and see that the unit is right"
        )


def level_of(points: Floats) -> float:
    heights = points[:, 2]
    _refuse_rise(float(heights.max() - heights.min()))
    return float(heights[0])


def _refuse_rise(rise: float) -> None:
    if not np.isfinite(rise):
        raise ValueError("its coordinates must be finite")
    if not rise <= FLAT:
        raise OffPlaneError(f"it rises {shown_mm(rise, 3)} out of the XY plane")


def swept(
    frame: Frame, centre: Floats, radius: float, angles: tuple[float, float], follower: Follower
) -> tuple[Floats, Floats, bool]:
    """Return the arc of a circle in a frame: ``angles`` are its start and sweep, rad.

    Counter-clockwise in the frame; where circles do not stay circles, ``follower`` follows it.
    """
    start, sweep = angles
    closed = sweep >= 2 * np.pi
    if not radius * float(np.abs(frame.axes).max()) > 0:
        return np.repeat(frame.of(centre)[None], 2, axis=0), np.zeros(2), False
    if frame.keeps_circles:
        parts = 1 if sweep <= np.pi else 2
        turned = start + sweep * np.arange(parts + 1) / parts
        rim = centre + radius * np.stack([np.cos(turned), np.sin(turned)], axis=1)
        bulges = np.full(parts + 1, np.tan(min(sweep / parts, np.pi) / 4) * frame.hand)
        count = parts if closed else parts + 1
        return frame.of(rim[:count]), bulges[:count], closed
    refuse_far(frame.axes * radius)
    vertices, bulges = _oval(frame.axes * radius, angles, follower)
    vertices = vertices + frame.of(centre)
    return (vertices[:-1], bulges[:-1], True) if closed else (vertices, bulges, False)


def _oval(axes: Floats, angles: tuple[float, float], follower: Follower) -> tuple[Floats, Floats]:
    """Return the biarcs of ``axes @ (cos t, sin t)`` from a start over a sweep, rad."""
    key = (*(float(a) for a in axes.ravel()), *angles)
    if key not in follower.ovals:
        follower.ovals[key] = _followed(axes, angles, follower)
    return follower.ovals[key]


def _followed(
    axes: Floats, angles: tuple[float, float], follower: Follower
) -> tuple[Floats, Floats]:
    start, sweep = angles
    u, v = axes.T
    principal = float(np.arctan2(2 * (u @ v), u @ u - v @ v)) / 2
    if sweep >= 2 * np.pi:
        start = principal
    end = start + sweep
    first = np.ceil((start - principal) / (np.pi / 2))
    quarters = principal + np.pi / 2 * (first + np.arange(6))
    inner = quarters[(quarters > start) & (quarters < end)]
    return follower.arcs(_conics(axes, np.array([start, *inner, end])))


def _conics(axes: Floats, edges: Floats) -> Spline:
    """Return the pieces of an ellipse between angles, each at most a quarter, as one spline.

    References
    ----------
    Piegl, L., and Tiller, W., The NURBS Book, 2nd edition (1997), section 7.3: a conic of less than
    half a turn is one rational piece of degree 2, its inner point where the tangents at the ends
    meet, weighted by the cosine of half its angle.
    """
    half = np.diff(edges) / 2
    angle = np.empty(2 * len(edges) - 1)
    angle[::2], angle[1::2] = edges, edges[:-1] + half
    weights = np.ones(len(angle))
    weights[1::2] = np.cos(half)
    control = np.stack([np.cos(angle), np.sin(angle)], axis=1) / weights[:, None]
    knots = np.concatenate([edges[:1], np.repeat(edges, 2), edges[-1:]])
    return Spline(control @ axes.T, knots, 2, weights)


def at_most_half_turns(vertices: Floats, bulges: Floats, closed: bool) -> tuple[Floats, Floats]:
    """Return the polyline with arcs of more than half a turn cut in two."""
    last = len(vertices) if closed else len(vertices) - 1
    points: list[Floats] = []
    curved: list[float] = []
    for k in range(len(vertices)):
        bulge = float(bulges[k]) if k < last else 0.0
        start, chord = vertices[k], vertices[(k + 1) % len(vertices)] - vertices[k]
        points.append(start)
        if abs(bulge) <= 1:
            curved.append(bulge)
            continue
        points.append(start + (chord + bulge * np.array([chord[1], -chord[0]])) / 2)
        curved += [float(np.tan(np.arctan(bulge) / 2))] * 2
    return np.array(points), np.array(curved)


def stretched(
    frame: Frame, vertices: Floats, bulges: Floats, closed: bool, follower: Follower
) -> tuple[Floats, Floats]:
    """Return a polyline in a frame that turns its arcs into pieces of ellipses."""
    last = len(vertices) if closed else len(vertices) - 1
    points: list[Floats] = []
    curved: list[float] = []
    for k in range(last):
        start, end, bulge = vertices[k], vertices[(k + 1) % len(vertices)], bulges[k]
        chord = end - start
        if bulge == 0 or not chord.any():
            points.append(frame.of(start))
            curved.append(0.0)
            continue
        middle = (start + end) / 2
        centre = middle + np.array([-chord[1], chord[0]]) * (1 / bulge - bulge) / 4
        radius = float(np.hypot(*(start - centre)))
        sweep = 4 * float(np.arctan(abs(bulge)))
        first = start if bulge > 0 else end
        angle = float(np.arctan2(*(first - centre)[::-1]))
        seen, bent, _ = swept(frame, centre, radius, (angle, sweep), follower)
        if bulge < 0:
            seen, bent = seen[::-1], np.append(-bent[:-1][::-1], 0.0)
        points += [frame.of(start), *seen[1:-1]]
        curved += [float(b) for b in bent[:-1]]
    if not closed:
        points.append(frame.of(vertices[-1]))
        curved.append(0.0)
    return np.array(points), np.array(curved)
