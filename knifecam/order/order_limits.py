"""Bounds of orders: what is proposed where one is silent, and when its places and figures agree.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import math

# Blade and bevels

SAME_DIAMETER_MM = 0.005
"""mm: a bore is meant by its diameter when it is within this of it."""

LAPPING_MM = 0.05
"""mm: a plate may be so much thicker or thinner than the blade where the order does not say
(common practice)."""

LANDS_MM = ((2.6, 0.25), (4.5, 0.4), (math.inf, 0.6))
"""mm: up to which thickness which land is proposed (common practice)."""

PLUNGE_RADIUS_MM = 5.0
"""mm: the radius proposed for a plunge (common practice)."""

AT_VERTEX_MM = 0.002
"""mm: an edge that ends this near to a vertex of the outline ends there."""

EDGE_SPACING_MM = 0.25
"""mm between the places of an edge's layer that are looked at."""

POINT_LENGTH_MM = 10.0
"""mm of an edge within which it runs round a point, where it turns by `POINT_TURN_RAD`."""

POINT_TURN_RAD = math.radians(90.0)
"""rad: an edge that turns by more within `POINT_LENGTH_MM` runs round a point."""

EDGE_CURVES_MEET_MM = 0.05
"""mm: curves of one edge that end so near to each other meet."""


# Patterns and edge breaks

CELL_SAMPLE_MM = 0.05
"""mm between the places of a cell's outline at which the metal beside it is measured."""

CELL_MARGIN_MM = 2.5
"""mm of metal from a pattern's cell to the outline (common practice)."""

CELL_WEB_MM = 1.5
"""mm of metal between cells, at least (common practice)."""

CELL_WEB_SHARE = 0.6
"""Plate thicknesses of metal between cells, at least (common practice)."""

OFF_BEVEL_MM = 0.5
"""mm of the outline that an edge break keeps off bevels and jimping where the order does not say."""


# The outline's places

ON_OUTLINE_MM = 1.0
"""mm: a point given as on the outline lies within this of it."""

BESIDE_OUTLINE_MM = 10.0
"""mm: a mark drawn beside the outline lies within this of it."""


# Setup

PIN_DIAMETERS_MM = (6.0, 5.0)
"""mm: pins proposed in a metric shop."""

INCH_PINS_MM = (6.35, 4.7625)
"""mm: 0.250 and 0.1875 in, pins proposed in an inch shop."""

INCH_CHANGE_HEIGHT_MM = 50.8
"""mm: 2.000 in, a size that inch shops have, for what is 50 mm elsewhere."""

INCH_BLOCK_MM = 12.7
"""mm: 0.500 in, a size that inch shops have, for what is 10 mm elsewhere."""

INCH_GAUGE_MM = 6.35
"""mm: 0.250 in, a size that inch shops have, for what is 6 mm elsewhere."""

BLIND_SKIN_MM = 0.3
"""mm: a blind reference bore leaves this much of the plate."""

REACH_SPARE_MM = 0.5
"""mm that a cutter's neck reaches deeper than the plate is thick."""


# Drawings

JOIN_MM = 0.01
"""mm: ends closer than this are joined."""
