"""Lines and arcs side by side in a table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve.curve import Curve, Floats
from knifecam.curve.curve_limits import HAIRPIN_RAD, SNAP_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Lines and arcs in a row, M of them; an arc turns through half a turn or less.

    Parameters
    ----------
    start, stop : (M, 2) float, mm
    arm : (M, 2) float, mm
        From the arc's centre to its start; 0 for lines.
    heading : (M,) float, rad
        Direction of travel at the start.
    angle : (M,) float, rad
        Turned through, positive counter-clockwise; 0 for lines.
    length : (M,) float, mm
    """

    start: Floats
    stop: Floats
    arm: Floats
    heading: Floats
    angle: Floats
    length: Floats

    def __len__(self) -> int:
        return len(self.length)

    def at(self, chosen: NDArray[np.int64], gone: Floats) -> tuple[Floats, Floats]:
        """Return points (K, 2) and headings (K,) of ``chosen`` pieces at ``gone`` mm from start."""
        length = self.length[chosen]
        fraction = np.divide(gone, length, out=np.zeros(len(gone)), where=length > 0)
        turned = self.angle[chosen] * fraction
        heading = self.heading[chosen] + turned
        half = turned / 2
        along = np.stack([np.cos(heading - turned), np.sin(heading - turned)], axis=1)
        straight = self.start[chosen] + gone[:, None] * along
        arm = self.arm[chosen]
        scale, c, s = 2 * np.sin(half), -np.sin(half), np.cos(half)
        moved = np.stack([arm[:, 0] * c - arm[:, 1] * s, arm[:, 0] * s + arm[:, 1] * c], axis=1)
        curved = self.start[chosen] + scale[:, None] * moved
        points = np.where((self.angle[chosen] == 0)[:, None], straight, curved)
        points = np.where((fraction == 1.0)[:, None], self.stop[chosen], points)
        return points, heading

    def project(self, chosen: NDArray[np.int64], points: Floats) -> tuple[Floats, Floats]:
        """Return how far along each chosen piece, prolonged, a point lies, and how far off it.

        ``chosen`` (K,) goes with the first axis of ``points`` (K, ..., 2).
        """
        shape = (len(chosen),) + (1,) * (points.ndim - 2)
        angle, heading = self.angle[chosen].reshape(shape), self.heading[chosen].reshape(shape)
        start = self.start[chosen].reshape((*shape, 2))
        arm = self.arm[chosen].reshape((*shape, 2))
        gap = points - start
        dx, dy, wx, wy = gap[..., 0], gap[..., 1], arm[..., 0], arm[..., 1]
        ux, uy = np.cos(heading), np.sin(heading)
        straight, aside = dx * ux + dy * uy, np.abs(ux * dy - uy * dx)
        sense = np.sign(angle)
        square = dx * dx + dy * dy
        gone = np.arctan2(sense * (wx * dy - wy * dx), wx * (wx + dx) + wy * (wy + dy))
        gone = np.where(gone < np.abs(angle) / 2 - np.pi, gone + 2 * np.pi, gone)
        radius = np.hypot(wx, wy)
        power = np.abs(square + 2 * (dx * wx + dy * wy))
        reach = np.hypot(wx + dx, wy + dy) + radius
        off = np.divide(power, reach, out=np.full(power.shape, np.inf), where=reach > 0)
        line = angle == 0
        return np.where(line, straight, gone * radius), np.where(line, aside, off)


def left(heading: Floats) -> Floats:
    """Return unit vectors, (M, 2), a quarter turn left of each heading."""
    return np.stack([-np.sin(heading), np.cos(heading)], axis=1)


def wrapped(angle: Floats) -> Floats:
    """Return angles in -pi..pi."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def joints(curve: Curve) -> tuple[Floats, Floats]:
    """Return the heading that arrives at each vertex of a closed curve, and the turn there, (N,).

    Turns are positive to the left. At a hairpin the headings do not tell left from right, but on
    which side of the piece before it the piece after it comes back.
    """
    arriving = np.roll(curve.end_headings, 1)
    turn = wrapped(curve.start_headings - arriving)
    for k in np.flatnonzero(np.abs(turn) > np.pi - HAIRPIN_RAD):
        before = k - 1 if k > 0 else len(curve) - 1
        reach = 0.5 * min(curve.lengths[before], curve.lengths[k])
        back = curve.piece_points(int(before), [1 - reach / curve.lengths[before]])[0]
        ahead = curve.piece_points(int(k), [reach / curve.lengths[k]])[0]
        aside = np.cos(arriving[k]) * (ahead - back)[1] - np.sin(arriving[k]) * (ahead - back)[0]
        turn[k] = np.copysign(np.abs(turn[k]), aside if aside != 0.0 else -1.0)
    return arriving, turn


def as_pieces(curve: Curve) -> Pieces:
    """Return the pieces of the curve itself."""
    return moved_pieces(curve, 0.0, curve.starts, curve.ends)[1]


def moved_pieces(
    curve: Curve, distance: float, start: Floats, stop: Floats
) -> tuple[NDArray[np.int64], Pieces]:
    signed = np.sign(curve.angles) * np.where(curve.is_arc, curve.radii, 1.0)
    radius = signed - distance
    kept = np.flatnonzero(~curve.is_arc | (signed < 0) | (radius > -SNAP_MM / 4))
    radius = np.where(signed > 0, np.maximum(radius, 1e-12), radius)
    arm = np.where(curve.is_arc[:, None], -radius[:, None] * left(curve.start_headings), 0.0)
    angle = np.where(curve.is_arc, curve.angles, 0.0)
    length = np.where(curve.is_arc, np.abs(angle * radius), np.hypot(*(stop - start).T))
    pieces = Pieces(
        start=start, stop=stop, arm=arm, heading=curve.start_headings, angle=angle, length=length
    )
    return kept, picked(pieces, kept)


def picked(pieces: Pieces, rows: NDArray[np.int64]) -> Pieces:
    """Return the pieces of the chosen rows."""
    return Pieces(
        start=pieces.start[rows],
        stop=pieces.stop[rows],
        arm=pieces.arm[rows],
        heading=pieces.heading[rows],
        angle=pieces.angle[rows],
        length=pieces.length[rows],
    )
