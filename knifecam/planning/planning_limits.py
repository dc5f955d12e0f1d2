"""Bounds of plans: overlaps, room and feeds of the cuts, and where cutters and tabs find a place.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import numpy as np

# Bevels

FREE_MM = 0.3
"""mm that roughing passes begin and end off the metal they meet."""

PLUNGE_STOCK_MM = 0.05
"""mm that the plunge's roughing leaves."""

LAYER_MM = 0.25
"""mm between the layers in which a plunge is roughed."""

PLUNGE_OVERLAP_MM = 0.3
"""mm by which the plunge's passes begin before the shortest of the bevel's ends."""

LEAST_PLUNGE_OVERLAP_MM = 0.02
"""mm by which the plunge's passes must begin before the shortest of the bevel's ends."""

CUTTER_SIZE_STEP_MM = 0.5
"""mm between the cutters that are tried where a refusal says which would do."""

WIDEST_CUTTER_MM = 12.0
"""mm: the widest cutter that is tried where a refusal says which would do."""

PASSES_TRIED = 12
"""Passes of a stage that are looked at beside plunges, once more and closely."""

BESIDE_PLUNGE_GOUGE_MM = 3e-4
"""mm: passes that come lower beside a plunge are shortened."""

EASE_MM = 0.2
"""mm by which passes are shortened at a time."""

MOST_SHORTENINGS = 60
"""How often passes are shortened at most."""


# Notes on bevels

COARSER_TIMES = 1.05
"""Ordered cusps from which higher ones are worth a word: steps are rounded to 0.001 mm."""


# Walls of cleared stretches

INTO_OPENED_MM = 0.5
"""mm by which passes of the rest begin and end within the opened stretches, beside the radius."""

STILL_LIFTED_MM = 0.2
"""mm by which side A's lap is at least still lifted past the end of a stretch cut less deep."""

ENTERED_MM = 0.05
"""mm above the web at which an edge's wall begins to fall into it."""

TRENCH_PLACES_ACROSS = 9
"""Places across the trench that are looked at where no tab may stand."""

STEP_ASIDE_MM = 0.05
"""mm between the places beside a pass where it is looked for ground that is open."""

WALL_JOIN_MM = 0.5
"""mm by which a finished wall goes on past the place where the next depth begins."""


# Cleared stretches

CUTTER_RIM_PLACES = 16
"""Places round a cutter's rim that are looked at."""

PASS_SAMPLE_MM = 3.0
"""mm between the places of a pass."""

OPENED_SPARE_MM = 0.3
"""mm that is opened beyond what the cutters sweep."""

STRETCH_ENDS_MM = 2.0
"""mm more at either end, over which walls of different depths run into each other."""

CLAMP_ROOM_MM = 5.0
"""mm between what is opened and clamps or reference bores (common practice)."""

LEAST_WEB_MM = 0.1
"""mm: a thinner web beside the edge is cut away rather than left as foil."""


# Edge breaks

PLANNED_TIP_SAMPLE_MM = 0.05
"""mm between the places where a tip is looked at."""

TIP_ROOM_MM = 0.005
"""mm that stay between a tip and the metal beside it."""

DEEPER_MM = 0.005
"""mm by which roughing may go further into an inner corner than the wall's finishing."""


# Lives and feeds

LIFE_USED_SHARE = 0.95
"""Share of a cutter's life that is planned for."""

FALLING_SLOPE = np.tan(np.radians(2.5))
"""Slope above which a fall counts as the descent off a tab."""

RAMP_DOWN_FEED_SHARE = 0.4
"""Share of the feed on descents."""

CORNER_FEED_SHARE = 0.6
"""Share of the feed in tight inner corners."""

WEB_FEED_SHARE = 0.6
"""Share of the feed through the last web."""


# Necks

NECK_ASIDE_MM = 0.15
"""mm beside the wall where a neck's passes begin and end."""

NECK_ARC_MM = 1.0
"""mm: radius of the arcs from there to the wall and back."""


# Openings

ENTRY_MM = 0.1
"""mm above the face where helices and ramps begin."""

WALL_SECTION_SHARE = 0.06
"""Of the cutter's diameter squared: the largest section of chips of a wall finished at its whole depth
(makers' tables for 55 to 65 HRC give up to 0.065: a general catalogue of 2022, p. 1283 and 1301)."""

FIT_CLEARANCE_MM = 0.02
"""mm the finishing cutter's end keeps off the roughed floor."""


# The outline

CONTOUR_RAMP_RAD = np.radians(1.0)
"""rad: fall of ramps along the contour, unless the cutter wants less (common practice)."""

FINISH_OVERLAP_MM = 0.8
"""mm by which the finishing pass overlaps its own beginning."""

FINISH_ASIDE_MM = 0.3
"""mm beside the wall where the finishing pass comes from."""

CORNER_ROUNDING_MM = 1e-6
"""mm of a corner: less is the rounding of where two spans meet."""

FINISH_BAND_MM = 0.0005
"""mm by which finishing tracks round dense outlines may keep farther off, metal left."""

ROUGH_BAND_MM = 0.01
"""mm by which roughing tracks round dense outlines may keep farther off, metal left."""

WEB_THICKER_SHARE = 0.25
"""Of the web: the fillets of both sides' roughing may make it so much thicker where a finishing pass
shears it ahead of its cutter."""

WEB_STEPDOWN_MM = 0.025
"""mm: no more is taken straight down into a web's solid at once (common practice)."""

FINISH_GOUGE_MM = 1e-6
"""mm: a finishing path nearer to the wall than the cutter's radius by more is refused."""

FULLER_AT_TABS_SHARE = 0.25
"""Of the allowance: so much more the finish may meet where roughing ended sooner beside a tab
(common practice)."""

BEFORE_TAB_MM = 0.2
"""mm of roughed ground on which passes over a tab begin and end."""

SHORTER_LANE_MM = 0.5
"""mm by which deeper lanes are shorter, so that they begin where all is open."""

LOOK_WITHIN_MM = 12.0
"""mm within which a place is looked for where the cutter may come down or a lead arc has room."""

LOOK_STEP_MM = 0.25
"""mm between the places looked at."""

COME_DOWN_PLACES = 72
"""Places of a cutter's rim that are looked at where it comes down."""

SPARE_RIM_MM = 0.01
"""mm that those places must lie within."""


# Waste

WASTE_WORTH_SHARE = 0.5
"""Share of the contact time above which the openings' waste is worth a word."""


# What stands on the plate

PASS_STEP_MM = 0.1
"""mm between the places of a pass that are looked at."""


# Tabs

LEAST_TAB_BEND_MM = 15.0
"""mm: a tab stands only where the outline bends no tighter than this."""

TAB_PLACE_STEP_MM = 0.5
"""mm between the places looked at."""

TAB_PASS_SAMPLE_MM = 0.1
"""mm between the places of other passes that are looked at beside a tab."""

INTO_TAB_MM = 0.005
"""mm that other passes may come into a tab."""

MOST_MOVED_MM = 5.0
"""mm by which a tab without room where it is ordered is moved at most."""

TANGENT_SPAN_MM = 4.0
"""mm of the wall over which a tab's direction is taken."""

NEAR_TIP_MM = 25.0
"""mm: one tab stands at most this far from the tip where there is room (common practice)."""

EVENING_ROUNDS = 20
"""Rounds at most in which tabs are moved apart."""
