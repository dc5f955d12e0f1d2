"""What the cutter met, step by step, and the formulas of milling that tell what that asks of it.

Angles are counted in the sense the spindle turns, from the place of the rim where a tooth moves
straight along the feed: 0 there, a quarter turn straight ahead, where the chip is thickest, half a
turn where it moves against the feed. Metal on the right of a spindle that turns clockwise is left
at half a turn: climb milling (down milling).

Checked in ``tests/published`` against worked examples of cutter makers.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.curve.curve import Floats, frozen


def _not_looked_at() -> Floats:
    return np.zeros(0)


@dataclass(frozen=True, eq=False)
class Engagement:
    """Measures of the steps a program's motions are cut in, one row a step.

    Directions are seen along the travel; depths are thicknesses of metal that the flank meets, in
    mm, measured between the cutter's tip and the metal's top (less any void beneath). The first
    twelve come from the sweep of the grid. The others are of the rim at the step's middle, before
    it cuts, and are NaN where they were not looked at (`knifecam.sweep.contact_record`); all but
    ``feed_per_tooth`` are 0 in the air.

    Parameters
    ----------
    motion : (S,) int32
        The motion each step belongs to.
    place : (S, 3) float, mm
        Tip at the step's middle, in the side's own frame.
    length, volume : (S,) float, mm and mm3
    left, front, right : (S,) float, mm
        Depth met within 45 degrees of straight left, of straight ahead, of straight right.
    width : (S,) float, rad
        Angle of the leading half circle that meets metal.
    under : (S,) float, mm
        Greatest depth taken off any column in the step.
    tallest : (S,) float, mm
        How far above the tip metal stands round the whole rim.
    shank : (S,) float, mm
        How far above the beginning of the shank metal stands within the shank's radius; <= 0: free.
    floor : (S,) float, mm
        Thickness of metal left under the tip where there is a void beneath it, inf over solid.
    entry, exit : (S,) float, rad
        Where a tooth first enters metal and last leaves it, counted in the sense the spindle turns
        from where a tooth moves straight along the feed: a quarter turn is straight ahead. With
        metal all round (straight down), 0 and a full turn.
    met : (S,) float, rad
        How much of what lies between entry and exit is metal.
    radial, axial : (S,) float, mm
        How far across the feed the rim meets metal, and its greatest thickness before the rim.
    chip, mean_chip : (S,) float, mm
        Greatest thickness of the chip square to the cutting edge, and its mean over what is met
        where that is the widest. NaN also where the spindle stands: nothing tells a chip there.
    feed_per_tooth : (S,) float, mm
        NaN for rapids, and where the spindle stands or the order does not name the cutter.
    unbroken : (S,) float, s
        For how long the contact lasts, at the programmed feed, that the step is part of.
    """

    motion: NDArray[np.int32]
    place: Floats
    length: Floats
    volume: Floats
    left: Floats
    front: Floats
    right: Floats
    width: Floats
    under: Floats
    tallest: Floats
    shank: Floats
    floor: Floats
    entry: Floats = field(default_factory=_not_looked_at)
    exit: Floats = field(default_factory=_not_looked_at)
    met: Floats = field(default_factory=_not_looked_at)
    radial: Floats = field(default_factory=_not_looked_at)
    axial: Floats = field(default_factory=_not_looked_at)
    chip: Floats = field(default_factory=_not_looked_at)
    mean_chip: Floats = field(default_factory=_not_looked_at)
    feed_per_tooth: Floats = field(default_factory=_not_looked_at)
    unbroken: Floats = field(default_factory=_not_looked_at)

    def __post_init__(self) -> None:
        unseen = frozen(np.full(len(self.motion), np.nan), np.float64)
        for name in self.__dataclass_fields__:
            dtype = np.int32 if name == "motion" else np.float64
            given = getattr(self, name)
            if len(given) == 0 < len(unseen):
                object.__setattr__(self, name, unseen)
            else:
                object.__setattr__(self, name, frozen(given, dtype))

    @property
    def both_walls(self) -> NDArray[np.bool_]:
        """(S,): whether metal is met within 45 degrees of straight left and of straight right.

        As the grid saw it, where the rim was not looked at.
        """
        looked = np.isfinite(self.entry)
        seen = (self.met > 0.0) & (self.entry < np.pi / 4) & (self.exit > 3 * np.pi / 4)
        return np.where(looked, seen, (self.left > 0.0) & (self.right > 0.0))

    def __len__(self) -> int:
        return len(self.motion)


def engaged_angle(radial: ArrayLike, diameter: ArrayLike) -> Floats:
    """Return the angle a tooth is in metal along a straight wall, rad: ``acos(1 - 2 ae / D)``."""
    share = np.clip(1.0 - 2.0 * np.asarray(radial, float) / np.asarray(diameter, float), -1.0, 1.0)
    return np.asarray(np.arccos(share))


def largest_chip(feed_per_tooth: ArrayLike, entry: ArrayLike, exit_: ArrayLike) -> Floats:
    """Return the chip's greatest thickness from entry to exit (rad), mm: ``fz sin`` at its most."""
    low, high = np.asarray(entry, float), np.asarray(exit_, float)
    ahead = (low <= np.pi / 2) & (high >= np.pi / 2)
    most = np.where(ahead, 1.0, np.maximum(np.sin(low), np.sin(high)))
    return np.asarray(np.asarray(feed_per_tooth, float) * most)


def mean_chip(feed_per_tooth: ArrayLike, entry: ArrayLike, exit_: ArrayLike) -> Floats:
    """Return the chip's mean thickness over the angle cut, mm; 0 where nothing is.

    ``fz (cos entry - cos exit) / (exit - entry)``; along a wall ``2 ae fz / (D angle)``.
    """
    low, high = np.asarray(entry, float), np.asarray(exit_, float)
    angle = high - low
    whole = np.cos(low) - np.cos(high)
    share = np.where(angle > 0.0, whole / np.where(angle > 0.0, angle, 1.0), 0.0)
    return np.asarray(np.asarray(feed_per_tooth, float) * share)


def feed_per_tooth(feed: ArrayLike, flutes: ArrayLike, spindle: ArrayLike) -> Floats:
    """Return the feed per tooth, mm: ``vf / (z n)``; NaN where the spindle stands."""
    turning = np.asarray(spindle, float) * np.asarray(flutes, float)
    return np.asarray(np.where(turning > 0.0, feed / np.where(turning > 0.0, turning, 1.0), np.nan))


def spindle_speed(surface_speed: float, diameter: float) -> float:
    """Return rev/min for a surface speed in m/min at a diameter in mm: ``1000 v / (pi D)``."""
    return 1000.0 * surface_speed / (np.pi * diameter)


def surface_speed(spindle: float, diameter: float) -> float:
    """Return m/min at a diameter in mm turning at ``spindle`` rev/min: ``pi D n / 1000``."""
    return float(np.pi * diameter * spindle / 1000.0)


def table_feed(feed_per_tooth: float, flutes: int, spindle: float) -> float:
    """Return the feed in mm/min: ``fz z n``."""
    return feed_per_tooth * flutes * spindle


def feed_inside(feed: float, wall: float, cutter: float) -> float:
    """Return the centre's feed in a bore of diameter ``wall`` mm: ``feed (Dm - D) / Dm``."""
    return feed * (wall - cutter) / wall


def feed_outside(feed: float, wall: float, cutter: float) -> float:
    """Return the centre's feed round a boss of diameter ``wall`` mm: ``feed (Dm + D) / Dm``."""
    return feed * (wall + cutter) / wall


def helix_angle(bore: float, cutter: float, pitch: float) -> float:
    """Return the fall of a helix in rad: ``tan a = p / (pi (Dm - D))``."""
    return float(np.arctan2(pitch, np.pi * (bore - cutter)))


def helix_turn(bore: float, cutter: float, pitch: float) -> float:
    """Return the length of one turn of the centre's helix, mm."""
    return float(np.hypot(np.pi * (bore - cutter), pitch))
