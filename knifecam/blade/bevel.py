"""Bevels and plunges, and the height of a bevel over the distance from the edge.

Heights are above the mid-plane toward the side they belong to: +z on A, -z on B. A hollow is an
arc below the chord from (0, h(0)) to (H, T/2), a convex profile an arc above it; H is the grind
height, T the thickness. References: the relation tan a = (T/2 - h(0)) / H and the sagitta
s = R - sqrt(R^2 - c^2/4) of a chord c are plane trigonometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve import Curve, Stretch
from knifecam.curve.curve import Floats
from knifecam.errors import OrderError, ShapeError
from knifecam.quantity import Stated, basis, keyed, least_mm, mm
from knifecam.record import OneOf, Plain, Record, Within

FLAT, HOLLOW, CONVEX = "flat", "hollow", "convex"


PROFILES = (FLAT, HOLLOW, CONVEX)


SIDES = ("A", "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class Plunge(Record):
    """Where a bevel ends: a line on the blade's face, and the radius that rises past it.

    ``line`` is open and goes on by its end tangents. The bevel lies on the right of its travel
    (s < 0); to the left (s > 0) the surface rises by a cylinder of ``radius`` mm that lies in
    the bevel, tangent to it along the line.
    """

    line: Curve
    radius: Annotated[float, Within(above=0.0, most=100.0)]

    def __post_init__(self) -> None:
        Record.__post_init__(self)
        if self.line.closed:
            raise OrderError(
                "Plunge.line must be an open curve, across the bevel; this one is closed"
            )


def bevel_path(name: str) -> str:
    """Return how lines name the bevel of that name."""
    return f"bevel '{name}'"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevel(Record):
    """The face ground from the blade's flat down to the edge.

    Parameters
    ----------
    edge : Stretch
        The edge, by stations of the counter-clockwise outline: the blade is on the left.
    sides : "both", "A" or "B"
    profile : "flat", "hollow" or "convex"
    angle : float, rad
        A side, of the chord from edge to grind line against the mid-plane.
    land : float, mm
        Whole thickness left at the edge.
    wheel : float, mm
        Radius of a hollow profile.
    sag : float, mm
        How far a convex profile rises over its chord.
    edge_at : float, mm
        Part z of the land's middle.
    plunges : tuple of Plunge
        One for each end that does not run out of the blade.
    """

    name: Annotated[str, Plain()]
    edge: Stretch
    angle: Annotated[float, Within(unit="rad", above=0.0, below=math.pi / 2)]
    land: Annotated[float, Within(above=0.0, most=20.0)]
    sides: Annotated[str, OneOf(words=("both", *SIDES))] = "both"
    profile: Annotated[str, OneOf(words=PROFILES)] = FLAT
    wheel: Annotated[float, Within(least=0.0)] = 0.0
    sag: Annotated[float, Within(least=0.0, most=5.0)] = 0.0
    edge_at: Annotated[float, Within(least=-25.0, most=25.0)] = 0.0
    plunges: tuple[Plunge, ...] = ()

    @property
    def path(self) -> str:
        """Return how lines name it."""
        return bevel_path(self.name)

    def keyed(self, key: str) -> Stated:
        """Return one of its lengths, to be written as "key=value"."""
        return keyed(f"{self.path}.{key}", mm(getattr(self, key)))

    def rests(self, *keys: str) -> str:
        """Return marks that nobody sees: the line they stand in rests on these keys of it."""
        return basis(*(f"{self.path}.{key}" for key in keys))

    def on(self, side: str) -> bool:
        """Return whether the bevel is ground on ``side``, "A" or "B"."""
        return self.sides in ("both", side)


def edge_height(bevel: Bevel, side: str) -> float:
    """Return the height of the land's border on ``side``, mm above the mid-plane toward it."""
    if side not in ("A", "B"):
        raise ValueError(f"side={side!r} must be 'A' or 'B'")
    return bevel.land / 2 + (bevel.edge_at if side == "A" else -bevel.edge_at)


def grind_height(bevel: Bevel, thickness: float, side: str) -> float:
    """Return how far from the edge, in mm along the face, the profile reaches T/2."""
    return (thickness / 2 - edge_height(bevel, side)) / math.tan(bevel.angle)


def arc_radius(bevel: Bevel, thickness: float, side: str) -> float:
    """Return the radius in mm of the profile: inf for flat ones.

    Raises
    ------
    ValueError
        Where no arc of that wheel or sag rises from the edge all the way to the flat.
    """
    if bevel.profile == FLAT:
        return math.inf
    chord = grind_height(bevel, thickness, side) / math.cos(bevel.angle)
    if bevel.profile == HOLLOW:
        least = chord / (2 * math.sin(bevel.angle))
        if not (math.isfinite(bevel.wheel) and bevel.wheel > least):
            raise ShapeError(
                f"bevel {bevel.name!r}, side {side}: wheel={mm(bevel.wheel)} dips below the edge; "
                f"use more than {least_mm(least):.4f}, a lower grind line or a greater angle"
            )
        return bevel.wheel
    most = chord / 2 * math.tan(bevel.angle / 2)
    if not 0 < bevel.sag < most:
        raise ShapeError(
            f"bevel {bevel.name!r}, side {side}: sag={mm(bevel.sag)} must be above 0 and below "
            f"{mm(most):.4f}, or the profile falls before it meets the flat"
        )
    return (chord**2 / 4 + bevel.sag**2) / (2 * bevel.sag)


def end_slopes(bevel: Bevel, thickness: float, side: str) -> tuple[float, float]:
    """Return dh/dd at the edge and at the grind line."""
    radius = arc_radius(bevel, thickness, side)
    half = math.asin(grind_height(bevel, thickness, side) / (2 * radius * math.cos(bevel.angle)))
    turn = -half if bevel.profile == CONVEX else half
    return math.tan(bevel.angle - turn), math.tan(bevel.angle + turn)


def height_at(bevel: Bevel, thickness: float, side: str, d: ArrayLike) -> Floats:
    """Return the height (K,) of the profile at ``d`` (K,) mm from the edge, positive inward.

    It rises strictly everywhere: below 0 and above the grind height it goes on by its end
    tangents. It is not limited by T/2.

    Raises
    ------
    ValueError
        As `arc_radius`.
    """
    d = np.asarray(d, dtype=float)
    low = edge_height(bevel, side)
    radius = arc_radius(bevel, thickness, side)
    if math.isinf(radius):
        return np.asarray(low + d * math.tan(bevel.angle))
    width = grind_height(bevel, thickness, side)
    first, last = end_slopes(bevel, thickness, side)
    sign, middle = _arc(bevel, width, radius)
    on = np.clip(d, 0.0, width)
    # sqrt(R^2 - (d - m)^2) - sqrt(R^2 - m^2), without the cancellation of large radii
    run = np.sqrt(radius**2 - (on - middle) ** 2) + math.sqrt(radius**2 - middle**2)
    rise = sign * on * (2 * middle - on) / run
    return np.asarray(low + rise + first * np.minimum(d, 0.0) + last * np.maximum(d - width, 0.0))


def slope_at(bevel: Bevel, thickness: float, side: str, d: ArrayLike) -> Floats:
    """Return dh/dd (K,) at ``d`` (K,) mm from the edge: above 0 everywhere.

    Raises
    ------
    ValueError
        As `arc_radius`.
    """
    d = np.asarray(d, dtype=float)
    radius = arc_radius(bevel, thickness, side)
    if math.isinf(radius):
        return np.full(d.shape, math.tan(bevel.angle))
    width = grind_height(bevel, thickness, side)
    sign, middle = _arc(bevel, width, radius)
    arm = middle - np.clip(d, 0.0, width)
    return np.asarray(sign * arm / np.sqrt(radius**2 - arm**2))


def _arc(bevel: Bevel, width: float, radius: float) -> tuple[float, float]:
    """Whether the arc is above (1) or below (-1) its centre, and the centre's d in mm."""
    chord = width / math.cos(bevel.angle)
    to_chord = math.sqrt(radius**2 - chord**2 / 4)
    sign = 1.0 if bevel.profile == CONVEX else -1.0
    return sign, width / 2 + sign * to_chord * math.sin(bevel.angle)


def bevel_named(name: str) -> str:
    """Return a bevel's name such that it says what it names: "bevel edge", but "bevel-1"."""
    return name if "bevel" in name.lower() else f"bevel {name}"
