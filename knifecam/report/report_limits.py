"""Bounds of reports: what of a deviation is shown and numbered, and where sections are taken.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

# Deviations

PATCH_MM = 0.4
"""mm along the side of a patch; a patch shows its worst."""

LEAST_CONTOUR_MM = 6.0
"""mm: shorter contours are not drawn."""

WORST_NUMBERED = 3
"""Places each way that are numbered."""

NUMBERED_APART_SHARE = 0.12
"""Of the blade's length: numbered places lie so far apart."""

LEAST_NUMBERED_MM = 0.0001
"""mm: what is less is not numbered; it would send a hand to a place where nothing is to be seen."""

LEAST_SCALE_MM = 0.005
"""mm: the deviation of full colour, at least."""


# The plate's picture

LABEL_CLEAR_MM = 1.5
"""mm on a plate of 100 mm: no label lies nearer to an edge, a zero or another label."""


# Lines for the screen

LEAST_CUTTER_MM = 0.5
"""mm: no thinner cutter is proposed for hard plate (common practice)."""

LEAST_LEFT_MM = 0.0005
"""mm: an inner corner with less metal left needs no file."""

ROW_SHARE = 0.01
"""Of the minutes at the mill: a shorter cut has no row of its own in the table of cuts."""


# Sections

SECTION_PLACE_SHARES = (0.15, 0.5, 0.85)
"""Of the edge's length: where the sections of one bevel lie."""

SECTION_SAMPLE_MM = 0.02
"""mm between sample columns along a section."""

DASHES_SHOW_MM = 0.02
"""mm: at a smaller deviation the dashes of the ordered surface lie under the cut one's line."""

DRAWN_BESIDE_MM = 1.5
"""mm drawn beside the blade."""

DRAWN_WHOLE_MM = 30.0
"""mm: blades no wider are drawn whole; of wider ones twice the bevel's width, but no less."""


# Surfaces

FINE_CELL_MM = 0.02
"""mm: so fine a grid shows every pass."""

BESIDE_BLADE_MM = 0.5
"""mm beside the blade that are looked at too."""
