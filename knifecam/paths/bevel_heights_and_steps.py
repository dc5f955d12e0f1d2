"""Bevels: where a cutter stands that touches the face, and the passes it makes along the edge.

All is seen in the frame of the side that is cut, z toward the spindle. The edge is prolonged by
straight tangents and has the blade on its left. A cutter of radius R and corner radius r that
touches the slope a at the distance d from the edge has its axis at d - r sin a - (R - r) and its
tip at h(d) + r cos a - r (plane trigonometry of the corner's circle).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel, Blade, edge_height, grind_height, height_at, slope_at
from knifecam.blade.finished_surface import edge_curve
from knifecam.curve import Curve, mirrored
from knifecam.curve.curve import Floats
from knifecam.curve.distance import prolonged, signed_line_distance
from knifecam.paths.paths_limits import STRAIGHT_RAD
from knifecam.paths.raw_offset import open_offsets
from knifecam.shop import Cutter
from knifecam.shop.defaults import step_for


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class BevelFace:
    """One bevel's face as it is seen on the side that is cut.

    ``edge`` is the edge itself, the blade on its left, ``along`` the same with tangents of
    ``past`` mm; ``plunges`` are lines with the plunge on their left, and radii. ``outline`` is the
    blade's, counter-clockwise.
    """

    bevel: Bevel
    side: str
    thickness: float
    outline: Curve
    edge: Curve
    past: float
    along: Curve
    plunges: tuple[tuple[Curve, float], ...]
    beside: dict[float, Curve] = field(default_factory=dict)

    @property
    def width(self) -> float:
        """How far from the edge the grind line lies, mm."""
        return grind_height(self.bevel, self.thickness, self.side)

    @property
    def low(self) -> float:
        """Height of the land's border above the mid-plane, mm."""
        return edge_height(self.bevel, self.side)

    def height(self, d: Floats | float) -> Floats:
        """Return the height (K,) of the face at ``d`` (K,) mm from the edge."""
        return height_at(self.bevel, self.thickness, self.side, d)

    def angle(self, d: Floats | float) -> Floats:
        """Return the slope (K,) in rad at ``d`` (K,) mm from the edge."""
        return np.arctan(slope_at(self.bevel, self.thickness, self.side, d))

    def where(self, height: Floats | float) -> Floats:
        """Return how far from the edge, (K,) mm, the face, prolonged, has the ``height`` (K,)."""
        wanted = np.atleast_1d(np.asarray(height, dtype=float))
        low, high = np.full(len(wanted), -1.0), np.full(len(wanted), self.width + 1.0)
        steep = np.tan(self.angle(np.array([-1.0, self.width + 1.0])))
        under, over = self.height(low), self.height(high)
        for _ in range(50):
            middle = (low + high) / 2
            less = self.height(middle) < wanted
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        found = np.where(wanted < under, -1.0 - (under - wanted) / steep[0], low)
        return np.where(wanted > over, self.width + 1.0 + (wanted - over) / steep[1], found)

    def offsets(self, x: Sequence[float]) -> list[Curve]:
        """Return the curves ``x`` mm inward of the prolonged edge; outward where negative."""
        missing = [one for one in dict.fromkeys(x) if one not in self.beside]
        self.beside.update(zip(missing, open_offsets(self.along, missing), strict=True))
        return [self.beside[one] for one in x]

    def past_plunges(self, points: Floats) -> list[Floats]:
        """Return for each plunge how far points (K, 2) lie past its line, (K,) mm."""
        return [signed_line_distance(points, line) for line, _ in self.plunges]

    def rise(self, points: Floats) -> Floats:
        """Return what the plunges add to the face at points (K, 2), (K,) mm; inf past them."""
        total = np.zeros(len(points))
        for (_, radius), s in zip(self.plunges, self.past_plunges(points), strict=True):
            on = np.clip(s, 0.0, radius)
            risen = (radius - np.sqrt(radius**2 - on**2)) / math.cos(self.bevel.angle)
            total = np.maximum(total, np.where(s > radius, np.inf, risen))
        return total


def face_on(side: str, blade: Blade, bevel: Bevel, flip: str, past: float) -> BevelFace:
    """Return a bevel's face in the frame of ``side``, its edge prolonged by ``past`` mm."""

    def seen(curve: Curve) -> Curve:
        if side == "A":
            return curve
        turned = mirrored(curve, flip)
        return turned if curve.closed else turned.reversed()

    edge = seen(edge_curve(bevel, blade.outline))
    return BevelFace(
        bevel=bevel,
        side=side,
        thickness=blade.thickness,
        outline=seen(blade.outline.counter_clockwise()),
        edge=edge,
        past=past,
        along=merged(prolonged(edge, past)),
        plunges=tuple((seen(p.line), p.radius) for p in bevel.plunges),
    )


def merged(curve: Curve) -> Curve:
    """Return the open curve with lines that go straight on made one."""
    lines = ~curve.is_arc
    turn = np.abs(np.sin(curve.start_headings[1:] - curve.end_headings[:-1]))
    straight = lines[1:] & lines[:-1] & (turn < STRAIGHT_RAD)
    kept = np.concatenate([[True], ~straight, [True]])
    return Curve(curve.vertices[kept], curve.bulges[kept], closed=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterStand:
    """Where a cutter stands in one pass: it touches at ``d``, its axis at ``x`` and tip at ``z``.

    ``d`` and ``x`` in mm from the edge, inward; ``z`` in mm in the side's frame. ``raised`` is how
    far above the face it stays.
    """

    d: float
    x: float
    z: float
    raised: float

    @property
    def arm(self) -> float:
        """How far inward of the axis the cutter touches, mm."""
        return self.d - self.x


def stand_at(face: BevelFace, cutter: Cutter, d: float, raised: float = 0.0) -> CutterStand:
    """Return how the cutter stands that touches the face, raised by so many mm, at ``d`` mm."""
    angle = float(face.angle(np.array([d]))[0])
    r, flat = cutter.corner, cutter.radius - cutter.corner
    return CutterStand(
        d=d,
        x=round(d - r * math.sin(angle) - flat, 9),
        z=float(face.height(np.array([d]))[0]) + raised + r * math.cos(angle) - r,
        raised=raised,
    )


def finishing_step(face: BevelFace, cutter: Cutter, cusp: float) -> float:
    """Return the greatest step in mm that leaves cusps of at most ``cusp`` mm anywhere."""
    angles = face.angle(np.linspace(0.0, face.width, 9))
    return min(
        step_for(float(a), cutter.corner, cutter.radius, cusp) for a in (angles.min(), angles.max())
    )


def finishing_stands(
    face: BevelFace, cutter: Cutter, step: float, raised: float
) -> tuple[CutterStand, ...]:
    """Return the passes from the edge upward, in equal steps of at most ``step`` mm.

    The first touches at the edge, the last at the grind line.
    """
    count = max(1, math.ceil(face.width / step - 1e-9))
    places = np.linspace(0.0, face.width, count + 1)
    return tuple(stand_at(face, cutter, float(d), raised) for d in places)


def roughing_levels(
    face: BevelFace, cutter: Cutter, *, stepdown: float, stepover: float, raised: float
) -> tuple[tuple[CutterStand, ...], ...]:
    """Return the passes of each level from the face down, each level's from the edge inward.

    The innermost pass of a level touches the face raised by ``raised``; the others stand
    ``stepover`` and its multiples further out at the same height, as far as the cutter still reaches
    past the edge.
    """
    r = cutter.corner
    bottom = stand_at(face, cutter, 0.0, raised).z
    top = face.thickness / 2
    count = max(1, math.ceil((top - bottom) / stepdown - 1e-9))
    heights = np.linspace(top, bottom, count + 1)[1:]
    found = []
    d = _touching(face, cutter, heights, raised)
    angles = face.angle(d)
    for z, place, angle in zip(heights.tolist(), d.tolist(), angles.tolist(), strict=True):
        inner = place - r * math.sin(angle) - (cutter.radius - r)
        rows = []
        x = inner
        while x + cutter.radius > 0.02:
            rows.append(CutterStand(d=place, x=round(x, 9), z=float(z), raised=raised))
            x -= stepover
        found.append(tuple(reversed(rows)))
    return tuple(level for level in found if level)


def _touching(face: BevelFace, cutter: Cutter, heights: Floats, raised: float) -> Floats:
    """Return where, (K,) mm from the edge, cutters with tips at ``heights`` touch the face."""
    r = cutter.corner
    low, high = np.full(len(heights), -1.0), np.full(len(heights), face.width + 1.0)
    for _ in range(50):
        middle = (low + high) / 2
        tip = face.height(middle) + raised + r * np.cos(face.angle(middle)) - r
        low, high = np.where(tip < heights, middle, low), np.where(tip < heights, high, middle)
    return low


def inside(face: BevelFace, points: Floats) -> NDArray[np.bool_]:
    """Return which points (K, 2) lie inside the blade's outline."""
    from knifecam.curve import winding

    return np.asarray(winding(points, face.outline) != 0)


def normals(headings: Floats) -> Floats:
    """Return unit vectors (K, 2) left of the headings."""
    return np.stack([-np.sin(headings), np.cos(headings)], axis=1)


def lowest_tip(stands: Sequence[CutterStand]) -> float:
    """Return the lowest tip of all passes, mm."""
    return min(one.z for one in stands)
