"""Frames of the judge: from a program to its side and on to the part; a plate that lies otherwise.

*Part frame*: X and Y as drawn, Z toward side A, z = 0 in the mid-plane of the plate.
*Side frame*: of side A the part frame; of side B the plate turned half a turn about its flip axis,
so that Z points to the spindle again. *Program frame*: what the text says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.curve import Curve, Motions
from knifecam.shop import Setup
from knifecam.shop.setup import Misplacement

Floats = NDArray[np.float64]


HALF_TURNS = {"X": (1.0, -1.0, -1.0), "Y": (-1.0, 1.0, -1.0)}
"""Half a turn about X and about Y: what becomes of each coordinate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """How one side's program lies over the part.

    ``signs`` turn side coordinates into part coordinates and back. ``datum`` is X0 Y0 and
    ``zero`` Z0 of the program, in the side frame, mm. ``angle`` (rad), ``x`` and ``y`` (mm) tell
    how the plate lies on the table: a place at p in the nominal program frame stands at
    p turned by ``angle`` about the origin and shifted by (``x``, ``y``). ``residuals`` (mm) are
    what that fit leaves at each measured bore, by name.
    """

    side: str
    signs: tuple[float, float, float]
    datum: tuple[float, float]
    zero: float
    angle: float = 0.0
    x: float = 0.0
    y: float = 0.0
    residuals: tuple[tuple[str, float], ...] = ()


def side_frame(setup: Setup, side: str) -> Frame:
    """Return the frame of side "A" or "B".

    Raises
    ------
    ValueError
        For a side, flip axis or Z zero that is not one of the two there are.
    """
    if side not in ("A", "B"):
        raise ValueError(f"side={side!r} must be 'A' or 'B'")
    if setup.flip not in HALF_TURNS:
        raise ValueError(f"flip={setup.flip!r} must be 'X' or 'Y'")
    which = "AB".index(side)
    signs = (1.0, 1.0, 1.0) if side == "A" else HALF_TURNS[setup.flip]
    half = setup.plate.thickness / 2
    heights = {"face": half, "fixture": -half}
    if setup.z_zero[which] not in heights:
        raise ValueError(f"z_zero={setup.z_zero[which]!r} must be 'face' or 'fixture'")
    px, py = setup.datum[which]
    frame = Frame(
        side=side,
        signs=signs,
        datum=(signs[0] * px, signs[1] * py),
        zero=heights[setup.z_zero[which]],
    )
    if side == "A" or setup.registration.kind != "bores":
        return frame
    return _as_it_lies(frame, setup)


def _as_it_lies(frame: Frame, setup: Setup) -> Frame:
    """Return the frame turned and shifted to the reference bores as they were measured."""
    known = {bore.name: bore.centre for bore in setup.registration.bores}
    rows = [(m.bore, known[m.bore], (m.x, m.y)) for m in setup.registration.measured
            if m.bore in known]  # fmt: skip
    if not rows:
        return frame
    nominal = np.array([c for _, c, _ in rows]) * frame.signs[:2] - frame.datum
    found = np.array([f for _, _, f in rows])
    angle, x, y = rigid_fit(nominal, found)
    placed = _turn(nominal, angle) + np.array([x, y])
    left = np.hypot(*(placed - found).T)
    return Frame(
        side=frame.side, signs=frame.signs, datum=frame.datum, zero=frame.zero,
        angle=angle, x=x, y=y,
        residuals=tuple((row[0], float(r)) for row, r in zip(rows, left, strict=True)),
    )  # fmt: skip


def rigid_fit(nominal: ArrayLike, found: ArrayLike) -> tuple[float, float, float]:
    """Return angle (rad) and shift (mm) that bring ``nominal`` (N, 2) nearest to ``found``.

    Least squares: the sum over all places of (turned nominal + shift - found)^2 is least. A single
    place gives a shift without a turn.
    """
    a, b = np.asarray(nominal, dtype=float), np.asarray(found, dtype=float)
    middle, centre = a.mean(axis=0), b.mean(axis=0)
    u, v = a - middle, b - centre
    angle = float(np.arctan2(np.sum(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]), np.sum(u * v)))
    shift = centre - _turn(middle[None], angle)[0]
    return angle, float(shift[0]), float(shift[1])


def _turn(points: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.stack(
        [c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]], axis=1
    )


def to_side_plane(frame: Frame, points: ArrayLike) -> Floats:
    """Return program places (M, 2) in the side frame."""
    lying = np.atleast_2d(np.asarray(points, dtype=float))
    if frame.angle or frame.x or frame.y:
        lying = _turn(lying - np.array([frame.x, frame.y]), -frame.angle)
    return np.asarray(lying + frame.datum)


def to_program_plane(frame: Frame, points: ArrayLike) -> Floats:
    """Return side places (M, 2) in the program frame."""
    nominal = np.atleast_2d(np.asarray(points, dtype=float)) - frame.datum
    if frame.angle or frame.x or frame.y:
        nominal = _turn(nominal, frame.angle) + np.array([frame.x, frame.y])
    return np.asarray(nominal)


def to_side(frame: Frame, points: ArrayLike) -> Floats:
    """Return program places (M, 3) in the side frame."""
    rows = np.atleast_2d(np.asarray(points, dtype=float))
    return np.column_stack([to_side_plane(frame, rows[:, :2]), rows[:, 2] + frame.zero])


def to_part(frame: Frame, points: ArrayLike) -> Floats:
    """Return side places (M, 2) or (M, 3) in the part frame; the same call leads back."""
    rows = np.atleast_2d(np.asarray(points, dtype=float))
    return np.asarray(rows * frame.signs[: rows.shape[1]])


def side_motions(frame: Frame, motions: Motions) -> Motions:
    """Return a program's motions in the side frame."""
    return Motions(
        kind=motions.kind,
        start=to_side(frame, motions.start),
        stop=to_side(frame, motions.stop),
        centre=to_side_plane(frame, motions.centre),
        turns=motions.turns,
        feed=motions.feed,
    )


def seen_from(frame: Frame, curve: Curve) -> Curve:
    """Return a curve of the part as it lies in the side frame.

    A closed curve keeps its sense of travel: one that ran counter-clockwise still does.
    """
    if frame.side == "A":
        return curve
    turned = Curve(curve.vertices * frame.signs[:2], -curve.bulges, curve.closed, curve.corners)
    return turned.reversed() if curve.closed else turned


def misplaced_frame(frame: Frame, place: Misplacement) -> Frame:
    """Return the frame of a side whose plate is misplaced on top of how it was taken to lie."""
    c, s = np.cos(place.angle), np.sin(place.angle)
    return replace(
        frame,
        angle=frame.angle + place.angle,
        x=float(c * frame.x - s * frame.y) + place.x,
        y=float(s * frame.x + c * frame.y) + place.y,
        zero=frame.zero - place.z,
    )
