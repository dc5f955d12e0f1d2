"""Bounds of drawings: what joins, what is a knife's outline, how much is read before it is refused.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import numpy as np

# Joints and crossings

SHARP_JOINT_RAD = 0.1
"""rad: where two pieces meet at a larger turn, they are prolonged or cut to where they cross."""

MADE_ONE_MM = 1e-6
"""mm: ends nearer than this are made one without asking how."""

MOST_CROSSINGS = 10_000
"""A drawing whose lines and arcs cross in more places is refused."""

AT_FORK_MM = 0.02
"""mm: a crossing this near to a fork is the fork's."""


# The drawing's picture

SHARP_CORNER_RAD = float(np.radians(10.0))
"""rad: where rings would be too many, only corners that turn by this and more get one."""


# Blocks

MOST_ENTITIES = 50_000
"""A drawing that places more, blocks counted each time, is refused."""

COPY_ENTITIES = 10
"""So many entities a copy of a block counts besides its own: it takes as long to place."""

DEEPEST_NESTING = 60
"""Blocks nested deeper are refused."""


# Entities

MOST_FIT_TRIES = 10_000
"""A drawing is refused whose curves take more tries: stretches over which two arcs are laid, and
where they do not follow within 1 um, over each half."""

MOST_ARC_PAIRS = 1000
"""A curve that takes more pairs of arcs is not followed; of a higher degree, so many times fewer."""

OUT_OF_PLANE_MM = 1e-3
"""mm: an entity that rises by more does not lie in the XY plane."""

FARTHEST_COORDINATE_MM = 1e6
"""mm: at this distance a coordinate still resolves 1e-10 mm."""

ROUNDING_SHARE = 1e-12
"""As a share: what differs by less differs by rounding."""

SQUARE_SHARE = 1e-9
"""Axes of a frame that differ by less, as a share of their length, are square and equal."""


# Ends that join

SHORTEST_PIECE_MM = 0.002
"""mm: what is shorter is no piece."""

MOST_NEAR_PAIRS = 500_000
"""A drawing of which more pairs of segments, or of their ends, come near each other is refused."""

PAIRS_AT_ONCE = 4_000_000
"""No more pairs are looked at in one query."""

ENDS_MEET_MM = 1e-6
"""mm: ends this close meet exactly."""

LEAST_REPORTED_GAP_MM = 1e-4
"""mm: gaps this small are closed without a word."""

LARGEST_JOIN_MM = 1.0
"""mm: no larger tolerance for joining ends is accepted."""


# Roles of loops

MOST_LOOPS_TRIED = 12
"""So many loops' layers are tried for the outline's."""


# The outline and its marks

CHORD_MM = 1e-3
"""mm: chords that stay this near to the arcs serve to tell inside from outside."""

FARTHEST_MARK_MM = 10.0
"""mm: a mark further from the outline does not belong to it."""

MARK_SAMPLE_MM = 0.25
"""mm: places along a mark that are looked at."""

HELPER_SPAN_SHARE = 0.6
"""What spans more than this share of the loop round it may be the part itself, and the loop a
helper."""

PLAIN_SPAN_SHARE = 0.2
"""So much of a plain rectangle, which is a plate's, a sheet's or a frame's edge more often."""

SHORTEST_KNIFE_MM = 40.0
"""mm: what is as long inside of a plain rectangle may be the part, however large the sheet; what is
shorter is no full-tang knife unless someone says so (common practice)."""

PLAIN_SHARE = 0.95
"""A loop that fills this share of a rectangle round it is a plain rectangle."""

SAME_FORM_SHARE = 2e-3
"""Loops whose area and length are those of a form within this share have it, drawn with lines too."""

CHAIN_PLACES = 64
"""A chain is looked at in so many places and at its vertices."""

LEAST_FACETS = 8
"""A loop of so many equal lines or more is taken for a circle drawn as a polygon."""


# Lines on each other

MOST_OVERLAPS = 20_000
"""A drawing of which more pairs of segments lie on each other is refused."""

PARTING_SHARE = 0.005
"""Segments lie on each other if they part by at most this share of the stretch they share."""

END_TOUCHES_MM = 1e-6
"""mm: ends that come this near to another segment touch it."""

PARTED_AGAIN_MM = 1e-3
"""mm: neighbours that part and meet again without leaving more between them do not cross."""
