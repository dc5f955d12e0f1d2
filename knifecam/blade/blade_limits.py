"""Bounds of blades: their angles, how close their places are looked at, when figures agree.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import math

# Bevels

HIDDEN_NEARER_MM = 1e-7
"""mm: a place of the edge whose grind line is this much nearer to another place is hidden."""


# Walls

WALL_IS_METAL_MM = 1e-9
"""mm: points this close to a wall count as metal, so that sample columns on the outline see the blade."""


# Cutters that touch bevels

LEAST_BEVEL_RAD = math.radians(1.5)
"""rad: no bevel's side is flatter; kitchen blades want 1.8 to 2.2 degrees (common practice)."""

GREATEST_BEVEL_RAD = math.radians(25.0)
"""rad: no bevel's side is steeper (common practice)."""

PLUNGE_PLACES = 60
"""Places along and past the plunge line at which its surface is examined."""

VALUES_AGREE_MM = 1e-6
"""mm: figures that differ by less agree."""


# Edge breaks

FADE_BEYOND_WIDTH_MM = 0.5
"""mm beyond a break's width that it may take to fade out at an open end. A cone's section at the
face alone reaches sqrt(w (2c + w)) past its axis, twice the width or more where w is small."""

FOOT_PAST_END_MM = 1e-9
"""mm: a foot no further past a stretch's end than this still belongs to it."""


# Bevels past the heel

EDGE_SAMPLE_MM = 0.05
"""mm between the places of the edge that are looked at."""

MOST_OVER_MM = 5.0
"""mm that a bevel may go on past the heel where the outline runs along the edge: a heel's corner."""

LEAST_AWAY_DEG = 20.0
"""degrees from the edge's own line: an outline that turns away by more ends the bevel by itself."""

LEAST_OVER_MM = 0.5
"""mm: less is not told."""

GROUND_UNDER_FACE_MM = 1e-3
"""mm under the plate's face where the outline counts as ground."""

ON_LINE_MM = 0.01
"""mm off the edge's own line within which the outline goes on straight from the edge."""

LOOK_SPACING_MM = 0.25
"""mm between the places of the outline that are looked at."""

AS_NEAR_TIMES = 1.1
"""An end of the edge this many times as far from the middle as the other is a heel too."""

LEAST_CROSSING_DEG = 30.0
"""degrees between an edge and a plunge's line: a flatter one does not end the bevel."""


# Jimping

LEAST_NOTCH_LAND_MM = 0.4
"""mm: metal between two notches; narrower teeth chip (common practice)."""


# Mass

STRIP_HEIGHT_MM = 0.2
"""mm: greatest height of a strip of rows."""

PANEL_LENGTH_MM = 0.4
"""mm: greatest length of a panel along a row."""
