"""How far a force across its axis bends a cutter, and how hard that strains it: a stepped cantilever.

The cutter is clamped where the holder begins. From the tip up it is its flutes, its neck, the cone
that widens to the shank, and the shank; flutes bend like a round bar of `FLUTE_SHARE` of their
diameter. Holder, collet and spindle are stiff: a small spindle adds about 0.1 um/N (from memory).

The deflection is the integral of ``M m / E I`` over the length, with ``M`` the moment of the force and
``m`` that of a unit force at the place looked at (the theorem of unit loads), in closed form for each
piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats
from knifecam.shop.cutter import Cutter

CARBIDE_N_MM2 = 600e3
"""N/mm2: modulus of elasticity of carbide (from memory; 580 GPa is published as well)."""


FLUTE_SHARE = 0.8
"""Diameter of the round bar that bends as the flutes do, over theirs (a maker's course on end mills
gives 0.7 to 0.8; Kops and Vo, CIRP Annals 39, 1990: 0.8, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BarPiece:
    """A piece of round bar from ``low`` to ``high`` mm above the tip; its diameter runs evenly."""

    low: float
    high: float
    thin: float
    thick: float

    @property
    def widening(self) -> float:
        """By how much the diameter grows for each mm up."""
        return (self.thick - self.thin) / (self.high - self.low)


def bar_pieces(cutter: Cutter) -> tuple[BarPiece, ...]:
    """Return what of a cutter stands out of its holder as pieces of round bar, from the tip up."""
    neck, shank = min(cutter.neck, cutter.diameter), cutter.shank
    reach = max(cutter.reach, cutter.flute_length)
    cone = max(0.0, shank - neck) / 2 / float(np.tan(cutter.cone))
    bounds = [0.0, cutter.flute_length, reach, reach + cone, max(cutter.stickout, reach + cone)]
    flutes = FLUTE_SHARE * cutter.diameter
    ends = [(flutes, flutes), (neck, neck), (neck, shank), (shank, shank)]
    rows = zip(bounds[:-1], bounds[1:], ends, strict=True)
    whole = [
        BarPiece(low=low, high=high, thin=thin, thick=thick)
        for low, high, (thin, thick) in rows
        if high > low
    ]
    return tuple(_ended(one, cutter.stickout) for one in whole if one.low < cutter.stickout)


def _ended(one: BarPiece, end: float) -> BarPiece:
    """Return a piece as far as ``end``."""
    high = min(one.high, end)
    thick = one.thin + one.widening * (high - one.low)
    return BarPiece(low=one.low, high=high, thin=one.thin, thick=thick)


def deflection_per_newton(
    pieces: tuple[BarPiece, ...], force_at: ArrayLike, *, at: ArrayLike = 0.0
) -> Floats:
    """Return by how many mm each newton bends a bar at ``at`` mm above the tip.

    ``force_at`` mm is how high above the tip the force acts; both are broadcast to each other.
    """
    a, b = np.broadcast_arrays(np.asarray(force_at, float), np.asarray(at, float))
    total = np.zeros(a.shape)
    for one in pieces:
        low = np.clip(np.maximum(a, b), one.low, one.high)
        total += _bent(one, low, a, b)
    return np.asarray(total * 64 / (np.pi * CARBIDE_N_MM2))


def _bent(one: BarPiece, low: Floats, a: Floats, b: Floats) -> Floats:
    """Return the integral of (x - a) (x - b) / d^4 from ``low`` to the end of a piece."""
    if abs(one.thick - one.thin) <= 1e-9 * one.thick:
        half = (one.high + low) / 2
        size = one.high - low
        return np.asarray(size * ((half - a) * (half - b) + size**2 / 12) / one.thin**4)
    k = one.widening
    # counted in the diameter u, which is u_a and u_b where the bar would be prolonged to a and b
    u_a, u_b = (one.thin + k * (x - one.low) for x in (a, b))

    def to(u: Floats) -> Floats:
        return np.asarray(-1 / u + (u_a + u_b) / (2 * u**2) - u_a * u_b / (3 * u**3))

    start = one.thin + k * (low - one.low)
    return np.asarray((to(np.asarray(one.thick)) - to(start)) / k**3)


def bending_stress_per_newton(pieces: tuple[BarPiece, ...], force_at: ArrayLike) -> Floats:
    """Return the greatest bending stress for each newton, N/mm2: ``32 M / pi d^3`` at its most.

    Of the round bar: what a notch or the root of a flute adds is left out.
    """
    a = np.asarray(force_at, float)
    most = np.zeros(a.shape)
    for one in pieces:
        places = [np.full(a.shape, one.low), np.full(a.shape, one.high)]
        if one.widening > 0.0:
            # along a cone M / d^3 is greatest where d is 1.5 times what it would be at the force
            apex = 1.5 * (one.thin + one.widening * (a - one.low))
            places.append(np.clip(one.low + (apex - one.thin) / one.widening, one.low, one.high))
        for x in places:
            wide = one.thin + one.widening * (x - one.low)
            most = np.maximum(most, np.maximum(x - a, 0.0) / wide**3)
    return np.asarray(most * 32 / np.pi)
