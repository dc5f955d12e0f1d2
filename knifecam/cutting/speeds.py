"""Speeds and feeds: the few formulas every catalogue prints.

Checked in ``tests/published`` against worked examples of cutter makers.
"""

from __future__ import annotations

import numpy as np


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
