"""Bounds of measuring: where the cut blade is looked at, how finely, and what counts as one place.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none. The judge's rooms have their own: none is the planner's, though
values agree.
"""

from __future__ import annotations

# Contact with bevels

ON_SURFACE_MM = 0.003
"""mm: a cutter this near to the wanted surface, square to it, finishes it."""

LEAST_BEVEL_CUT_MM2 = 1e-5
"""mm2: a step that takes less metal a millimetre does not count as cutting."""

TOUCH_NUDGE_MM = 1e-3
"""mm past a bevel's ends that its contact may lie, and half the way inward to a place surely on it."""


# Places on bevels

FLAT_WITHIN_MM = 1e-9
"""mm: a surface this near to the flat is the flat."""

SLOPE_STEP_MM = 1e-4
"""mm: how far apart heights are taken for a slope."""

ALONG_EDGE_SHARE = 0.3
"""Share of a pass's way up the slope below which it runs along the edge."""


# Walls beside tabs

BESIDE_TAB_MM = 0.05
"""mm above and below a tab in which its wall is not judged, besides the cutters' corners."""


# Lines across bevels and plunges

BEVEL_LINES = 5
"""Lines across a bevel."""

SAMPLES_A_STEP = 16
"""Sample columns in a step from pass to pass."""

FINEST_SAMPLE_MM = 0.002
"""mm between the sample columns of a line, at least."""

COARSEST_SAMPLE_MM = 0.02
"""mm between the sample columns of a line, at most."""

MOST_SAMPLES = 3000
"""Sample columns in a line, at most."""

FROM_END_SHARE = 0.04
"""Of the edge's length: how far from its ends no line stands."""

BESIDE_GRIND_MM = 0.3
"""mm before the grind line where steps from pass to pass are no longer looked at."""

PLUNGE_LINES = 5
"""Lines across a plunge."""

PLUNGE_SAMPLE_MM = 0.01
"""mm from sample column to sample column in them."""

PLUNGE_LINES_TRIED = 101
"""Places tried for lines across a plunge."""

BEFORE_PLUNGE_MM = 1.0
"""mm before the plunge's line where its lines begin."""

BELOW_FLAT_MM = 0.02
"""mm below the flat, and above the bevel: the circle is fitted between."""

LEAST_RISE_MM = 0.2
"""mm: a line that rises less over the bevel tells nothing of the circle."""


# Edge, tip and edge breaks

ALONG_EDGE_MM = 0.1
"""mm between the places along the edge."""

FROM_END_MM = 0.1
"""mm from the edge's ends where the land is not taken."""

BESIDE_EDGE_MM = 0.005
"""mm inside and outside the edge: where the sample columns stand."""

OWN_LAND_MM = 0.005
"""mm: where another bevel's face takes more than this off a land, it is that bevel's."""

INSIDE_EDGE_MM = 0.05
"""mm inside the edge: where it is seen when the bevels were finished."""

BEHIND_TIP_MM = (1.0, 3.0, 5.0)
"""mm from the tip: where the thickness behind it is measured."""

TIP_SAMPLE_SPACING_MM = 0.02
"""mm between the sample columns at one distance."""

BREAK_LINE_STEP_MM = 1.0
"""mm between lines along a break."""

MOST_BREAK_LINES = 400
"""Lines along a break, at most."""

BREAK_LINE_SAMPLES = 24
"""Sample columns in a line, from the wall to half as far again as the break is wide."""

BREAK_LINE_START_MM = 0.006
"""mm from the wall where a line begins."""

STRAY_MM = 0.01
"""mm to both sides of a place by which it is seen where a wall stands nearest."""

UNBROKEN_MM = 0.002
"""mm: a face this near to the flat is not broken."""


# Openings

BORE_PLACES = 72
"""Places round a bore where its wall is measured."""

OPENED_WIDER_MM = 0.15
"""mm past the skin and both sides' corner radii that side B may open wider by the relief."""

FARTHEST_WEB_MM = 10.0
"""mm: openings farther apart have no web."""

NOTCH_PLACES = 120
"""Places round a notch at which its wall is measured."""

NOTCH_LEVELS = 7
"""Heights at which a notch's wall is measured."""

NOTCH_WALL_FROM_MM = 0.02
"""mm inside the outline: from there on a notch has a wall."""


# Ground surfaces

COMPARED_CELLS_MM = 0.1
"""mm between the cells that are compared, or one cell."""

LEAST_BLOCK_MM = 0.2
"""mm: a block need not be smaller, however small its cells are."""

WALL_MARGIN_MM = 0.006
"""mm: nearer to a wall than this the wall is judged, not the surface."""

CUTS_FACE_MM = 1e-6
"""mm: a cutter this far below the face cuts it."""

REACH_PLACES = 33
"""Places along a motion at which its cutter's reach is taken, quarters of arcs apart."""


# Tabs and necks

NECK_ALONG_MM = 0.02
"""mm between stations looked at."""

NECK_FIRST_MM = 0.02
"""mm off the wall, and short of the neck's far side, where the first and the last line across lie."""

NECK_BESIDE_MM = 0.3
"""mm off the wall up to which lines lie as close to each other as the first lies to it."""

NECK_LINES_ACROSS = 15
"""Lines from there on to the neck's far side."""

NECK_BEYOND_MM = 1.5
"""mm past a cutter's diameter to either side of a tab's middle that is looked at."""

NECK_FULL_MM = 2e-4
"""mm: a neck is of full thickness where it is this near to that of its middle."""

LEAST_METAL_MM = 0.02
"""mm: a thinner skin holds nothing."""

MEASURED_NECK_FILLET_MM = 0.002
"""mm: where a neck is no thicker than this above its thinnest, its fillet has ended."""

TAB_SEARCH_STEP_MM = 0.05
"""mm between the stations where bridges are looked for in the grid."""

TAB_WIDTH_FIRST_MM = 0.02
"""mm: the first distance from the wall at which a tab's width is taken."""

TAB_WIDTH_STEP_MM = 0.1
"""mm from one distance at which a tab's width is taken to the next."""

BESIDE_NECK_MM = 0.05
"""mm past a neck's far side where the tab behind it begins."""

TAB_EDGE_SAMPLE_MM = 0.002
"""mm between the sample columns that refine a tab's edges."""

PAST_TAB_MM = 1.0
"""mm past a bridge's ends that sample columns look at."""

MOST_TAB_STATIONS = 400
"""Stations on each side of a bridge's middle that sample columns look at, at most."""

GROOVE_MM = 0.05
"""mm: where less has been taken off the plate there is no trench."""

ONE_TAB_MM = 0.2
"""mm, and two cells: bridges no further apart are one."""

FULL_THICKNESS_MM = 2e-4
"""mm: a tab is of full thickness where it is this near to that of its middle."""


# Walls

WALL_SAMPLE_MM = 0.25
"""mm between the places where a wall is measured."""

WALL_OFF_MM = 0.005
"""mm: how far a wall may stand from where it is wanted."""

MEETING_MM = 0.3
"""mm above and below the overlap: what stays here and nowhere else is a ridge."""

BESIDE_FACE_MM = 0.02
"""mm below a face, and above a floor: where walls are measured beside them."""

REACHABLE_MM = 1e-6
"""mm: a cutter that comes no nearer than this too near still reaches a place."""

STRETCH_SAMPLE_MM = 0.01
"""mm between the places that the cutter is put to beside a stretch."""

LAND_HEIGHTS = 7
"""Heights across a land at which its wall is measured."""

RIDGE_MM = 0.005
"""mm: a lower ridge where the sides meet is not looked for."""

INWARD_MM = 0.005
"""mm inside the wall where the blade's own thickness beside it is taken."""


# What is wanted

LINE_UP_MM = 0.02
"""mm: the blade's thickness and the plate's may differ by this much."""


# One motion looked at closer

FINEST_CELL_MM = 0.005
"""mm: the grid on which a motion is looked at closer has no finer cells."""

MOST_CELLS = 250_000
"""Cells that this grid has at most."""


# Steps and their stages

WEB_SLACK_TIMES = 1.25
"""A web may be thicker than ordered by this factor where it is sheared."""

DEPTH_ROUNDING_MM = 0.01
"""mm: by so much more than slack a depth may exceed what is ordered."""

ON_WALL_MM = 0.01
"""mm: an axis this near to the cutter's radius from a wanted wall finishes it."""

ONTO_WALL_SHARE = 0.1
"""Of the diameter: what is wider in the mean does not lead onto a wall."""

NOT_ZERO_MM = 1e-9
"""mm: a length that is divided by is no less."""

OUTER_MM = 1.0
"""mm: roughing of a bevel begins so far off the metal, at most."""

LEVEL_RAD = 1e-3
"""rad: motions that fall or rise more lead on and off passes."""

CLEARS_BESIDE_MM = 0.01
"""mm: a tip this far below where it finishes a bevel clears beside it, or gouges it."""

LOOK_AHEAD_MM = 0.25
"""mm before and behind the axis where the way to the wall is taken, to see how it turns."""

LOOK_AHEAD_SHARE = 0.45
"""Of the step: no farther before and behind the axis is the way to the wall taken."""

TURN_SEEN_FROM_MM = 0.02
"""mm: in shorter steps a wall is not seen to turn, only to have corners."""

OTHER_WALL_COS = 0.5
"""Cosine of the turn beyond which it is another wall that is nearest."""

FACING_WALL_COS = -0.5
"""Cosine of the turn beyond which the other wall is on the other side: only that ends metal which lies
along both walls of a corner."""

TURN_HALVINGS = 5
"""Halvings of the way looked at, toward where the wall turns most."""

AT_ONCE_SHARE = 0.5
"""Of a turn: what of it is still seen after those halvings is a corner between two walls."""

WALL_NUDGE_MM = 1e-7
"""mm: how far apart distances from a wall are taken for the way to it: nowhere is it that of two."""

MOST_CONTACT_SPEEDUP_TIMES = 5.0
"""A contact counts as at most so many times as fast: on arcs of less than a quarter of the cutter's
radius the axis all but turns on the spot, and chips are those of the axis' feed."""


# Corners out of reach

SILENT_MM = 0.002
"""mm: stretches that keep less are left out; mill and cutter err by more (common practice)."""

RADIUS_HALVINGS = 14
"""Halvings of a radius: of 3 mm they leave 0.2 um."""
