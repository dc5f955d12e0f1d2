"""Bounds of programs: feeds near a hand, bare plate for a length check, the shortest written move.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

# Feeds near a hand

UNPROVED_FEED_MM_MIN = 600.0
"""mm/min of Z alone to the change height (common practice)."""

LOWERING_FEED_MM_MIN = 200.0
"""mm/min of the way down from the change height (common practice)."""


# Length checks

BLOCK_FOOT_MM = 3.0
"""mm of bare plate round the place at least: half the width of a small block (common practice)."""

BARE_PLATE_SPARE_MM = 0.5
"""mm of bare plate beyond the block's foot, or the cutter's rim."""

AMPLE_PLATE_MM = 2.0
"""mm of bare plate more than needed, beyond which a place is no better than one nearer to zero."""

CLAMP_ROOM_MM = 5.0
"""mm between a holder and a clamp (common practice)."""

PATH_CELL_MM = 0.5
"""mm between the places of a path, and the size of a cell they are rounded to."""


# Measured bores

LARGEST_RESIDUAL_MM = 0.02
"""mm: reference bores that fit the drawing worse were measured wrongly."""


# Written moves

FLAT_ARC_MM = 5e-5
"""mm: an arc whose chord strays less from it is written as a line."""

SHORTEST_PIECE_MM = 0.002
"""mm: no piece may be shorter."""


# The gauge pin

PIN_PLACE_SHARES = (0.15, 0.3, 0.5, 0.7, 0.85)
"""Shares of an edge's length where the pin may stand beside it."""

PIN_KEEPS_OFF_MM = 2.0
"""mm the pin keeps off things on the table."""

PIN_ABOVE_MM = 1.0
"""mm above the plate's upper face: where the pin stops to be looked at."""
