"""From a program's motions to strokes over the part: the oracle's own frames."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC
from knifecam.rs274.trace import Trace
from knifecam.shop import Order, Setup
from knifecam.shop.cutter import CHAMFER
from knifecam.shop.setup import Misplacement
from tests.sabotage.oracle.form import Strokes

Floats = NDArray[np.float64]

ALOFT = 1e4
"""mm: where motions of cutters that the order does not have are put."""


def strokes_of(order: Order, side: str, trace: Trace, lies: Misplacement | None = None) -> Strokes:
    """Return a side's motions over the part, heights above the mid-plane toward that side.

    ``lies`` tells how the plate lies there, if not as it should.
    """
    lies = lies or Misplacement()
    setup = order.setup
    m, mirror = trace.motions, mirrored(setup, side)
    shape = np.array([_shape(order, int(number)) for number in trace.cutter]).reshape(-1, 4)
    lift = zero_of(setup, side) - lies.z + np.where(shape[:, 0] > 0.0, 0.0, ALOFT)
    ends = [
        np.column_stack([to_part(setup, side, end[:, :2], lies), end[:, 2] + lift])
        for end in (m.start, m.stop)
    ]
    turned = np.where(m.kind == ARC, m.turns, 0.0) * (mirror[0] * mirror[1])
    return Strokes(
        start=ends[0],
        stop=ends[1],
        centre=to_part(setup, side, m.centre, lies),
        turns=turned,
        radius=np.where(shape[:, 0] > 0.0, shape[:, 0], 1.0),
        flat=shape[:, 1],
        rise=shape[:, 2],
    )


def mirrored(setup: Setup, side: str) -> tuple[float, float]:
    """Return the signs of X and Y as the side sees them: B's are those of half a turn."""
    if side == "A":
        return 1.0, 1.0
    return (1.0, -1.0) if setup.flip == "X" else (-1.0, 1.0)


def zero_of(setup: Setup, side: str) -> float:
    """Return the height of the program's Z0 above the mid-plane, toward the side, mm."""
    half = setup.plate.thickness / 2
    return half if setup.z_zero["AB".index(side)] == "face" else -half


def to_part(setup: Setup, side: str, points: Floats, lies: Misplacement) -> Floats:
    """Return program places (M, 2) in the part."""
    x, y = setup.datum["AB".index(side)]
    signs = np.array(mirrored(setup, side))
    seen = points[:, 0] + 1j * points[:, 1]
    turn, shift = lie_of(setup, side)
    again = complex(math.cos(lies.angle), math.sin(lies.angle))
    turn, shift = again * turn, again * shift + complex(lies.x, lies.y)
    nominal = (seen - shift) / turn
    flat = np.column_stack([nominal.real, nominal.imag])
    return flat * signs + (x, y)


def lie_of(setup: Setup, side: str) -> tuple[complex, complex]:
    """Return turn and shift (complex) from nominal program places to where the plate lies."""
    known = {bore.name: bore.centre for bore in setup.registration.bores}
    rows = [m for m in setup.registration.measured if m.bore in known]
    if side == "A" or setup.registration.kind != "bores" or not rows:
        return 1.0 + 0j, 0j
    signs, datum = mirrored(setup, side), setup.datum[1]
    nominal = np.array([complex(*((np.array(known[m.bore]) - datum) * signs)) for m in rows])
    found = np.array([complex(m.x, m.y) for m in rows])
    about, seen = nominal - nominal.mean(), found - found.mean()
    turn = complex((np.conj(about) * seen).sum())
    turn = turn / abs(turn) if abs(turn) > 0.0 else 1.0 + 0j
    return turn, complex(found.mean() - turn * nominal.mean())


def _shape(order: Order, number: int) -> tuple[float, float, float, float]:
    """Return radius, flat end, rise of the cone, and whether the cutter is known."""
    for cutter in order.cutters:
        if cutter.number == number:
            if cutter.kind == CHAMFER:
                return cutter.diameter / 2, cutter.tip / 2, 1 / math.tan(cutter.half_angle), 1.0
            return cutter.diameter / 2, cutter.diameter / 2 - cutter.corner, 0.0, 1.0
    return 0.0, 0.0, 0.0, 0.0
