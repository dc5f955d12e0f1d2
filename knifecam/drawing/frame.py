"""Frames that place the flat shapes of a DXF in the XY plane.

Every flat entity is a shape in a frame of its own: an origin and two axes in space. The frame
holds all at once: the entity's coordinate system (OCS), mirrored where its extrusion points
down, every INSERT round it, and the drawing's unit. Where the axes stay square and equally long,
arcs stay arcs; where not, they are pieces of an ellipse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Curve, Floats
from knifecam.drawing.follow import Follower
from knifecam.drawing.record import shown

FLAT = 1e-3
"""mm: an entity that rises by more does not lie in the XY plane."""

FARTHEST = 1e6
"""mm: at this distance a coordinate still resolves 1e-10 mm."""

_SQUARE = 1e-9
"""Axes of a frame that differ by less, as a share of their length, are square and equal."""


class OffPlaneError(ValueError):
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
        raise ValueError(f"it reaches further than {FARTHEST:.0f} mm from the origin")


def level_of(points: Floats) -> float:
    _refuse_rise(float(np.ptp(points[:, 2])))
    return float(points[0, 2])


def _refuse_rise(rise: float) -> None:
    if not np.isfinite(rise):
        raise ValueError("its coordinates must be finite")
    if not rise <= FLAT:
        raise OffPlaneError(f"it rises {shown(rise, 3)} mm out of the XY plane")


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
    curve = _oval(frame.axes * radius, angles, follower)
    vertices, bulges = curve.vertices + frame.of(centre), curve.bulges
    return (vertices[:-1], bulges[:-1], True) if closed else (vertices, bulges, False)


def _oval(axes: Floats, angles: tuple[float, float], follower: Follower) -> Curve:
    """Return the biarcs of ``axes @ (cos t, sin t)`` from a start over a sweep, rad."""
    key = (*(float(a) for a in axes.ravel()), *angles)
    if key not in follower.ovals:
        follower.ovals[key] = _followed(axes, angles, follower)
    return follower.ovals[key]


def _followed(axes: Floats, angles: tuple[float, float], follower: Follower) -> Curve:
    start, sweep = angles
    u, v = axes.T

    def oval(t: Floats) -> tuple[Floats, Floats]:
        c, s = np.cos(t), np.sin(t)
        return (
            c[:, None] * u + s[:, None] * v,
            -s[:, None] * u + c[:, None] * v,
        )

    principal = float(np.arctan2(2 * (u @ v), u @ u - v @ v)) / 2
    if sweep >= 2 * np.pi:
        start = principal
    quarters = principal + np.pi / 2 * np.arange(-12, 13)
    return follower.arcs(oval, (start, start + sweep), tuple(quarters))


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
