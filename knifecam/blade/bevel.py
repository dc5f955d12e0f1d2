"""The bevel as a record: the ground face from the flat to the edge, and the plunge that ends it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.curve import Curve, Stretch
from knifecam.errors import OrderError
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

    def on(self, side: str) -> bool:
        """Return whether the bevel is ground on ``side``, "A" or "B"."""
        return self.sides in ("both", side)
