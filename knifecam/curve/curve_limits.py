"""Bounds of curves: when places, ends and headings are one, and how near arcs follow a spline.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

# Arcs along a spline

SAME_KNOT_SHARE = 1e-9
"""Knots closer than this share of the whole span are one knot."""

SHORTEST_PIECE_MM = 0.002
"""mm: no piece of a curve is shorter."""

STRETCH_PLACES = 40
"""A stretch is measured at so many places, its arcs at twice as many."""

AIMED_SHARE = 0.98
"""Share of the tolerance that may be used there; the rest is for the places between, where the
deviation, a smooth curve with a few humps, may be (1/40)^2 or so greater."""

LARGEST_TURN_RAD = 1.8
"""rad: a stretch that turns further is halved before two arcs are tried."""

LARGEST_BULGE = 0.7
"""Of each of two arcs: the tangent of a quarter of its turn."""

ONE_PIECE_MM = 1e-9
"""mm: neighbours that lie on one line or circle within it become one piece."""

MOST_HALVINGS = 64
"""A stretch halved more often spans less than a number resolves."""


# Crossings

PIECES_TOUCH_MM = 2e-8
"""mm: pieces that come nearer than this touch."""

TREE_FROM_PIECES = 160
"""Pieces above which a tree finds the neighbours sooner than comparing all with all."""


# Corners

CORNER_RAD = 1e-3
"""rad: two pieces that meet at a larger turn than this meet in a true corner."""

STRAIGHT_BULGE = 1e-12
"""Pieces of a smaller bulge are lines."""


# Prolonged curves

PROLONGED_BY_MM = 1024.0
"""mm by which curves are prolonged at least: more than any blade is long."""

ROW_BY_ROW_FROM_POINTS = 5000
"""From so many points on it pays to walk them row by row."""


# Ends and turns

SNAP_MM = 1e-7
"""mm: ends nearer than this are the same place."""

HAIRPIN_RAD = 1e-6
"""rad: a turn that lacks less of half a turn is a hairpin."""


# Stations

SAME_STATION_MM = 1e-9
"""mm: stations closer than this are the same."""
