"""Bounds of the rules: what an order may ask for, what is noted, and what is refused.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import math

# Cutters of bevels

NEAR_AXIS_SHARE = 0.15
"""Diameters: a cutter that finishes nearer to its axis rubs (common practice)."""

FREE_UNDER_CLEARING_MM = 0.15
"""mm that must stay under the deepest clearing."""

SUPPORT_VOID_MM = 0.3
"""mm: thin metal over a deeper void wants support (common practice)."""

STEEPEST_RAD = math.radians(30.0)
"""rad: a bevel's pass is led down no more steeply into what the stage before it left."""

CUTTER_OUTLINE_SAMPLE_MM = 0.25
"""mm between the places of the outline that are looked at."""

LEAST_LESS_MM = 0.02
"""mm: a lesser depth or stock is not proposed."""

MOST_PASSES = 3000
"""Finishing passes of one bevel on one side: more take days."""


# Bevels

VALUES_AGREE_MM = 1e-6
"""mm: figures that differ by less agree."""

SHARED_OUTLINE_MM = 0.1
"""mm of the outline that bevels which end where the next begins may share."""

BEVEL_OUTLINE_SAMPLE_MM = 0.5
"""mm between the places of the outline that are looked at."""


# Clamps

OBSTACLE_GAP_MM = 0.1
"""mm that stay at least between anything that turns and what stands there."""

OUTLINE_CLAMP_SAMPLE_MM = 0.1
"""mm between the places of the outline at which the distance to a clamp is taken."""

CLAMP_ROOM_MM = 5.0
"""mm between any path and a clamp (common practice)."""


# Cutters and cutting data

LEAST_STOCK_MM = 0.02
"""mm: roughing that leaves less on a wall cuts where finishing ends."""

NOTED_TIMES = 3.0
"""Times the proposed stepdown, stepover or feed of a tooth: from there on it is noted."""

REFUSED_TIMES = 10.0
"""Times the proposed stepdown, stepover or feed of a tooth: from there on it is refused."""

NOTED_SPEED_TIMES = 1.5
"""Times the proposed surface speed: from there on it is noted."""

REFUSED_SPEED_TIMES = 3.0
"""Times the proposed surface speed: from there on it is refused."""

HARDNESSES_HRC = (50.0, 66.0)
"""HRC: the proposals hold for plates between these (common practice for hardened tool steel)."""


# Edge breaks

HEAD_ROOM_MM = 0.5
"""mm that stay between a chamfer mill and a screw's head."""


# Jimping

BREAK_SAMPLE_MM = 0.2
"""mm between the places of a break's stretch that are looked at."""

LEAST_HELIX_DIAMETERS = 1.05
"""Least bore or notch in cutter diameters: below, a helix is a plunge."""

NOTCH_TO_OPENING_MM = 1.5
"""mm of metal that must stay between a notch and an opening."""

MOUTH_SPACING_MM = 0.1
"""mm between the places looked at."""


# Openings

LEAST_RING_MM = 0.4
"""mm: a thinner ring chips like a thin land between notches (common practice)."""

RING_SPACING_MM = 0.1
"""mm between the places of a ring."""

GROUND_UNDER_FACE_MM = 1e-3
"""mm below the face from which a ring counts as ground."""

WEB_TO_OUTLINE_MM = 1.5
"""mm of metal that must stay between an opening and the outline or another opening."""

WEB_SPACING_MM = 0.2
"""mm between the places of an opening's wall at which the metal beside it is measured."""

LEAST_SKIN_MM = 0.1
"""mm: thinnest skin where side A counts Z from the face, so that a plate 0.05 mm thinner than measured
and a Z 0.03 mm off do not open it into the fixture."""

SKIN_BY_BED_MM = 0.05
"""mm: thinnest skin where side A counts Z from the fixture."""


# Plate and registration

LARGEST_PLATE_TRAVELS = 2.0
"""Travels: a plate longer than this finds no room on the table (common practice)."""

UNEQUAL_PINS_MM = 0.2
"""mm: pins that differ by less are equal, for one enters the other's bore."""

PINS_SEAT_WITHIN_MM = 0.3
"""mm: a plate turned to within this of its pins seats on them."""


# Tabs and necks

BEND_STRENGTH_N_MM2 = (2500.0, 3500.0)
"""N/mm2: hardened tool steel in bending (common practice)."""

LEFT_FOR_B_MM = 0.1
"""mm that must be left for side B to cut beside a tab."""

THINNEST_TAB_MM = 0.2
"""mm: a thinner tab breaks before it should (common practice)."""

THICKEST_TAB_MM = 0.8
"""mm: a thicker tab is not snapped by hand (common practice)."""

WEAKEST_TAB_N_MM = 10.0
"""N mm: a tab that snaps at less does not hold. Tabs of 155 hold 25 times what the last passes ask
(common practice), and half as much again is kept."""

THINNEST_NECK_MM = 0.12
"""mm: a thinner neck breaks before its time."""

THICKEST_NECK_MM = 0.3
"""mm: a thicker neck does not snap at the wall."""

LARGEST_STUB_MM = 0.2
"""mm: how far a necked tab's stub may stand out of the blade (common practice)."""

NECK_THINNER_MM = 0.1
"""mm: a neck is at least this much thinner than its tab."""


# Plate and zeros a little off

PLATE_THICKER_MM = 0.05
"""mm that the plate's thickness may be off by."""

Z_ZERO_OFF_MM = 0.03
"""mm that side B's Z zero may be off by."""

REMAINING_LAND_MM = 0.05
"""mm of land that must remain."""

PLANNED_LEAST_LAND_MM = 0.08
"""mm: a thinner land may not exist after all (common practice: 0.15 mm and more)."""


# The trench

TRENCH_DIAMETERS = 1.25
"""Least trench width in diameters of the roughing cutter (common practice)."""

FINISH_ROOM_MM = 0.3
"""mm the trench must be wider than the finishing cutter (common practice)."""


# Workholding

STIFF_TAB_SPACING_MM = 60.0
"""mm: tabs stand no farther apart than this along the blade (common practice)."""

WIDEST_TAB_GAP_MM = 1.5 * STIFF_TAB_SPACING_MM
"""mm: a gap that is noted; an end that hangs out farther is refused, for a cut there bends it."""

HINGE_SHARE = 0.25
"""Share of the blade's length: tabs within it are one hinge."""

OVERHANG_TIMES = 10.0
"""Plate thicknesses that may hang out beyond a screw (common practice)."""
