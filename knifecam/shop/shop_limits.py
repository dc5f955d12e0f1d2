"""Bounds of the shop: which cutters serve, how necks and stops are, how far both sides overlap.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

# Choice of cutters

THICKEST_FOR_CLEARING_MM = 6.0
"""mm of diameter: thicker cutters leave too much beside the edge's wall."""

CLEARING_CORNER_MM = 0.25
"""mm of corner radius: rounder cutters leave too much beside the edge's wall."""

NOTABLY_FASTER_DIAMETERS = 1.15
"""Diameters of the trench's cutter from which another clears notably faster."""

CORNER_ROOM_RADII = 1.15
"""Cutter radii: the least radius of an inner corner that is not entered full width."""

MOST_AT_EDGE_MM = 0.0022
"""mm: a plunge's cusps run across the edge; those of both sides together stay below 5 um of land."""

USUAL_BREAK_WIDTH_MM = 0.3
"""mm: the width of an edge break."""

TIP_BELOW_MM = 0.35
"""mm: how far a chamfer mill's tip runs below an edge break."""

TIGHTEST_BORE_DIAMETERS = 1.25
"""Cutter diameters: a tighter bore jams with chips."""

WIDEST_BORE_DIAMETERS = 1.9
"""Cutter diameters: a wider bore keeps a core."""

SAME_SIZE_SHARE = 0.02
"""Share of the diameter: cutters that differ by less, as measured, are of one size."""

ROUGHED_UNDER_MM = 0.1
"""mm: a fitted bore is roughed at most so much under its diameter."""

THICKEST_FOR_TRENCH_MM = 4.0
"""mm: thicker cutters leave wide stubs, and are taken for the outline only when no other is there."""

ROUNDEST_MM = 0.25
"""mm of corner radius: rounder cutters are for bevels where an order has any."""

SAME_ANGLE_RAD = 1e-3
"""rad: a chamfer mill's cone may differ so much from an edge break's angle."""

THICKEST_NECK_CUTTER_MM = 1.5
"""mm: greatest diameter of cutters that neck tabs (common practice)."""

NECK_CORNER_MM = 0.1
"""mm: greatest corner radius of cutters that neck tabs (common practice)."""


# Setup

ALLOWED_SPREAD_MM = 0.02
"""mm: more difference in thickness goes straight into tabs and land (common practice)."""

LOWEST_STOP_MM = 5.0
"""mm above the plate: the least at which a hand comes near (common practice)."""


# Sides

LEAST_RAPID_HEIGHT_MM = 3.0
"""mm: rapids sideways pass at least this far over the plate and what stands on it."""

OPENING_OVERLAP_MM = 0.1
"""mm beyond both cutters' corner radii, so that no ridge stays where two sides meet."""


# Necks

SHARPEST_MM = 0.05
"""mm: no edge of hard metal is taken to be sharper at the foot of a wall."""

LEAST_NECK_WIDTH_MM = 0.6
"""mm: a narrower neck does not hold the blade to the end."""

PLANNED_NECK_FILLET_MM = 0.002
"""mm: a neck that is no thicker than this above its least is at its thinnest."""

WIDTH_STEP_MM = 0.1
"""mm: widths are rounded up to this."""
