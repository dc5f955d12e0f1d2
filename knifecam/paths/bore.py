"""Round bores by helix, round them by circles: climb milling, counter-clockwise from above."""

from __future__ import annotations

import numpy as np

from knifecam.curve import Motions
from knifecam.cutting.milling_formulas import feed_inside
from knifecam.errors import PlanError
from knifecam.paths.follow import arc
from knifecam.quantity import mm, most_mm

CLEARED_BY_ONE_HELIX = 1.9
"""Cutter diameters: a wider bore keeps a core under one helix, and is cleared from inside first."""


def radii_of_helices(diameter: float, cutter: float, stepover: float) -> tuple[float, ...]:
    """Return the radii in mm of the centre's helices, inner first, the last making ``diameter``."""
    if not diameter > cutter:
        raise PlanError(
            f"bore diameter={mm(diameter):.3f}: cutter of {mm(cutter):.3f} leaves no helix;"
            f" use one of {most_mm(diameter / 1.25):.2f} or less"
        )
    last = (diameter - cutter) / 2
    first = (CLEARED_BY_ONE_HELIX - 1) / 2 * cutter
    if last <= first:
        return (last,)
    count = int(np.ceil((last - first) / stepover - 1e-9))
    return tuple(float(r) for r in np.linspace(first, last, count + 1))


def helix(
    centre: tuple[float, float],
    radius: float,
    *,
    top: float,
    bottom: float,
    pitch: float,
    feed: float,
) -> Motions:
    """Return whole turns of a helix from ``top`` down to ``bottom``, then a full circle there.

    The pitch really used is the greatest that divides the height evenly and is at most ``pitch``.
    It begins and ends at the +X end of the circle.
    """
    if not (radius > 0 and top > bottom and pitch > 0):
        raise ValueError(f"helix of radius {radius} from {top} to {bottom} at pitch {pitch}")
    count = int(np.ceil((top - bottom) / pitch - 1e-9))
    heights = np.linspace(top, bottom, count + 1)
    x, y = centre[0] + radius, centre[1]
    turns = [
        arc((x, y, heights[i]), (x, y, heights[i + 1]), centre, 1.0, feed) for i in range(count)
    ]
    return Motions.joined([*turns, circle_pass(centre, radius, bottom, feed)])


def circle_pass(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return one full circle at ``z``, from its +X end."""
    place = (centre[0] + radius, centre[1], z)
    return arc(place, place, centre, 1.0, feed)


def onto_wall(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return the half turn from the bore's middle out to the +X end of the circle."""
    return arc(
        (*centre, z), (centre[0] + radius, centre[1], z), (centre[0] + radius / 2, centre[1]), 0.5, feed
    )  # fmt: skip


def off_wall(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return the half turn from the +X end of the circle back to the bore's middle."""
    return arc(
        (centre[0] + radius, centre[1], z), (*centre, z), (centre[0] + radius / 2, centre[1]), 0.5, feed
    )  # fmt: skip


def bore_passes(
    centre: tuple[float, float],
    diameter: float,
    *,
    cutter: float,
    top: float,
    bottom: float,
    pitch: float,
    stepover: float,
    ramp: float,
    feed: float,
) -> tuple[Motions, ...]:
    """Return the passes that open a bore from ``top`` to ``bottom`` (side frame), each one chain.

    Wide bores are cleared from the inside outward, so no core is ever left standing. No helix
    falls steeper than ``ramp`` rad. Each pass ends in the middle of the circle, off the wall.
    """
    passes = []
    for radius in radii_of_helices(diameter, cutter, stepover):
        allowed = min(pitch, 2 * np.pi * radius * float(np.tan(ramp)))
        moved = feed_inside(feed, 2 * radius + cutter, cutter)
        down = helix(centre, radius, top=top, bottom=bottom, pitch=allowed, feed=moved)
        passes.append(Motions.joined([down, off_wall(centre, radius, bottom, moved)]))
    return tuple(passes)


def fit_passes(
    centre: tuple[float, float],
    diameter: float,
    *,
    cutter: float,
    bottom: float,
    spring_circles: int,
    feed: float,
) -> tuple[Motions, ...]:
    """Return the finishing pass of a fitted bore: one circle at full depth and spring circles."""
    radius = (diameter - cutter) / 2
    moved = feed_inside(feed, diameter, cutter)
    rounds = [circle_pass(centre, radius, bottom, moved)] * (1 + spring_circles)
    return (
        Motions.joined(
            [
                onto_wall(centre, radius, bottom, moved),
                *rounds,
                off_wall(centre, radius, bottom, moved),
            ]
        ),
    )
