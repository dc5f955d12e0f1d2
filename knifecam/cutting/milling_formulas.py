"""Formulas of milling: speeds, feeds, chip thickness, engaged angle.

Angles are counted in the sense the spindle turns, from the place of the rim where a tooth moves
straight along the feed: 0 there, a quarter turn straight ahead, where the chip is thickest, half a
turn where it moves against the feed. Metal on the right of a spindle that turns clockwise is left
at half a turn: climb milling (down milling).

Checked in ``tests/published``.

Checked in ``tests/published`` against worked examples of cutter makers.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats


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
