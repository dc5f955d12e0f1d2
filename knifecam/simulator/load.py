"""The line that loads the cutter most, and what every line's teeth met, in words."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.cutting import Engagement
from knifecam.cutting.chip import feed_per_tooth
from knifecam.quantity import mm, mm3
from knifecam.shop import Order
from knifecam.simulator.engaged import unbroken_contact
from knifecam.simulator.figures import rounded
from knifecam.simulator.side import Side

Floats = NDArray[np.float64]

LONG_ENOUGH = 0.2
"""mm: removal rates of shorter motions say more about the grid's cells than about the cutter."""


SLOT = 0.8 * np.pi
"""rad: with metal on both hands, and so much of the front met, cells alone keep it from being all."""


def hardest(side: Side, order: Order) -> dict[str, Any]:
    """Return the line that removes metal at the greatest rate (mm3/min), and what its teeth meet.

    ``section`` (mm2) is what it takes for each mm of its way. Depths and angle as the sweep of the
    grid saw them, at their greatest on that line, be it of a thin web ahead and a low strip beside:
    the angle within a degree (rms) at cells of 0.05 mm. The chip is square to the edge where the
    metal's top lies on level ground.
    """
    lengths = side.motions.lengths
    fit = side.contact & ~side.rapid & (lengths >= LONG_ENOUGH)
    if not fit.any():
        return {"line": 0, "rate": 0.0}
    rate = np.where(fit, side.volume * side.motions.feed / np.maximum(lengths, LONG_ENOUGH), 0.0)
    k = int(np.argmax(rate))
    found = {"line": int(side.trace.line[k]), "rate": rounded(rate[k], 2)}
    return found if side.swept is None else found | _met_on(side, order, k)


def _met_on(side: Side, order: Order, motion: int) -> dict[str, Any]:
    record = side.steps.engagement
    rows = np.flatnonzero((record.motion == motion) & (record.volume > 0.0))
    widest = rows[np.argmax(record.width[rows])]
    radius, angle = float(side.cutter_radius[motion]), float(record.width[widest])
    if angle > SLOT and record.both_walls[widest]:
        angle = np.pi
    depth = float(record.under[rows].max())
    tooth = _per_tooth(side, order, motion)
    upright = angle > 0.0 and not side.steps.heading[widest].any()
    beside = record.left[widest] > 0.0 or record.right[widest] > 0.0
    share = float(np.sin(min(angle, np.pi / 2))) if beside else 1.0  # nothing on either hand: ahead
    steep, fall = _steepness(side, motion, depth), max(0.0, float(side.steps.fall[widest]))
    end = np.sqrt(1.0 - steep**2) * np.sin(fall)
    across = radius * (1.0 - np.cos(angle)) if angle < np.pi else 2.0 * radius
    return {
        "section": rounded(side.volume[motion] / side.motions.lengths[motion]),
        "radial": rounded(across, 3),
        "axial": rounded(depth),
        "angle_deg": rounded(np.degrees(angle), 1),
        "feed_per_tooth": rounded(tooth),
        "chip": rounded(tooth * (1.0 if upright else share * steep * np.cos(fall) + end)),
        "unbroken_seconds": rounded(unbroken_contact(side)[rows].max(), 1),
    }


def _per_tooth(side: Side, order: Order, motion: int) -> float:
    number = int(side.trace.cutter[motion])
    flutes = max((c.flutes for c in order.cutters if c.number == number), default=0)
    speed = side.trace.speed[motion] if side.trace.spindle[motion] else 0.0
    return float(feed_per_tooth(side.motions.feed[motion], flutes, speed))


def _steepness(side: Side, motion: int, depth: float) -> float:
    """Return by how much the slope of the edge at a height thins the chip: 1 on an upright edge."""
    half, corner = float(side.shapes.half_angle[motion]), float(side.shapes.corner[motion])
    if half > 0.0:
        return float(np.cos(half))
    if corner > depth:
        return float(np.sqrt(1.0 - (1.0 - depth / corner) ** 2))
    return 1.0


def line_loads(side: Side, record: Engagement) -> dict[int, str]:
    """Return what the cutter met on each line of the program that took metal, in words.

    ``record`` is the whole one (`knifecam.simulator.engaged.engagement_of`); the figures are the
    greatest of the line's steps, entry and exit those of the step met widest across.
    """
    taken = np.flatnonzero((record.volume > 0.0) | (np.nan_to_num(record.met) > 0.0))
    lines = np.asarray(side.trace.line)[record.motion[taken]]
    edges = np.flatnonzero(np.diff(lines, prepend=-1))
    return {
        int(lines[begin]): _words(record, rows)
        for begin, rows in zip(edges, np.split(taken, edges[1:]), strict=True)
    }


def _words(record: Engagement, rows: NDArray[np.int64]) -> str:
    volume = f"takes {mm3(float(record.volume[rows].sum())):.3f}"
    seen = rows[np.nan_to_num(record.met[rows]) > 0.0]
    if not len(seen):
        return volume
    k = seen[np.argmax(record.radial[seen])]
    both = ", both walls" if bool(record.both_walls[k]) else ""
    chip = float(record.chip[seen].max())
    thick = (
        "chips not known, since the spindle stands"
        if np.isnan(chip)
        else f"chips to {mm(chip):.4f}"
    )
    return (
        f"{volume}: {mm(float(record.axial[seen].max())):.3f} deep, {mm(float(record.radial[k])):.3f}"
        f" across{both}, teeth in metal from {np.degrees(record.entry[k]):.1f} to"
        f" {np.degrees(record.exit[k]):.1f} degrees, {thick}; in contact for"
        f" {float(record.unbroken[seen].max()):.1f} s on end"
    )
