"""The bevel as a record: the ground face from the flat to the edge, and the plunge that ends it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from knifecam.curve import Curve, Stretch

FLAT, HOLLOW, CONVEX = "flat", "hollow", "convex"

PROFILES = (FLAT, HOLLOW, CONVEX)

SIDES = ("A", "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class Plunge:
    """Where a bevel ends: a line on the blade's face, and the radius that rises past it.

    ``line`` is open and goes on by its end tangents. The bevel lies on the right of its travel
    (s < 0); to the left (s > 0) the surface rises by a cylinder of ``radius`` mm that lies in
    the bevel, tangent to it along the line.
    """

    line: Curve
    radius: float

    def __post_init__(self) -> None:
        if self.line.closed:
            raise ValueError("the line of a plunge must be open")
        if not (math.isfinite(self.radius) and self.radius > 0):
            raise ValueError(f"radius={self.radius} mm must be finite and greater than 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevel:
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

    name: str
    edge: Stretch
    angle: float
    land: float
    sides: str = "both"
    profile: str = FLAT
    wheel: float = 0.0
    sag: float = 0.0
    edge_at: float = 0.0
    plunges: tuple[Plunge, ...] = ()

    def __post_init__(self) -> None:
        if self.sides not in ("both", *SIDES):
            raise ValueError(f"sides={self.sides!r} must be 'both', 'A' or 'B'")
        if self.profile not in PROFILES:
            raise ValueError(f"profile={self.profile!r} must be one of {', '.join(PROFILES)}")
        if not 0 < self.angle < math.pi / 2:
            raise ValueError(f"angle={self.angle} rad must be between 0 and a quarter turn")
        if not (math.isfinite(self.land) and math.isfinite(self.edge_at)):
            raise ValueError(f"land={self.land} mm and edge_at={self.edge_at} mm must be finite")

    def on(self, side: str) -> bool:
        """Return whether the bevel is ground on ``side``, "A" or "B"."""
        return self.sides in ("both", side)
