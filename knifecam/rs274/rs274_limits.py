"""Bounds of the language: how far arcs may miss, when places are one, what a number may be.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none. The judge's rooms have their own: none is the planner's, though
values agree.
"""

from __future__ import annotations

# Arcs

TOLERANCE_MM = 0.002
"""mm: how far the radii at start and end of an arc may differ, in a program in mm."""

TOLERANCE_INCH = 0.0002
"""in: how far the radii at start and end of an arc may differ, in a program in inches."""

LEAST_RADIUS_MM = 1e-9
"""mm: what is smaller is no radius."""

ONE_PLACE_MM = 1e-6
"""mm: places nearer than this are one: the sums that lead there differ in their last bits."""

HALF_CHORD_SLACK_TIMES = 1 + 1e-12
"""Radii that half a chord may be long: sums differ in their last bits."""

ARC_CHORD_MM = 1e-4
"""mm: the most by which the chords of an arc in G18 or G19 leave it."""


# Cycles

PECK_GAP_MM = 0.254
"""mm: how far above the last depth G83 stops its rapid back down."""


# Numbers

CLOSE_TO_INTEGER = 1e-4
"""A number that is to be an integer lies within this of one."""


# Plain lines

MM_PER_INCH = 25.4
"""mm in an inch."""


# Words

LARGEST_WORD = 1e9
"""A word with a greater value is refused, so that every sum stays finite."""


# The mill's state

START_PLACE_MM = (0.0, 0.0, 1000.0)
"""mm: where the mill is taken to stand before the program has sent an axis anywhere.

No text tells where the mill stands when it starts; a place high up is assumed, and
`Trace.known` says for every motion which axes are known where it starts.
"""

MOST_ADDED_MOTIONS = 200_000
"""Motions that cycles and arcs across G17 may add beyond one a line, in a whole program."""


# Radius compensation

INNER_CORNER_RAD = 0.01
"""rad: a path that turns toward the cutter by more has an inner corner."""

STRAIGHT_ON_RAD = 1e-9
"""rad: a path that turns away from the cutter by less needs no arc."""


# Probing

LEAST_PROBE_MM = 0.254
"""mm: how far a probe must have to go; 0.01 inch is the same."""
