"""Bounds of the judge: how far a cut blade may be off, and what a cutter, a hand or a tab bears.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none. The judge's rooms have their own: none is the planner's, though
values agree.
"""

from __future__ import annotations

import numpy as np

# Bevels and lands

NEAR_AXIS_SHARE = 0.15
"""Of the diameter: nearer to its axis a cutter rubs (common practice)."""

STOCK_SLACK_TIMES = 1.25
"""A finishing pass may meet more than its planned stock by this factor."""

STOCK_MORE_MM = 0.02
"""mm that a finishing pass may meet besides."""

DECIDED_SIN = 0.3
"""Sine of the angle between travel and the edge above which the hand of travel is plain."""

LAND_OFF_MM = 0.005
"""mm: how much thinner or thicker than ordered a land may be."""

JUDGED_LEAST_LAND_MM = 0.05
"""mm: a land that may become thinner than this, with plate and zeros disturbed, does not stand."""


# Collisions

CLAMP_SAMPLE_MM = 0.1
"""mm between the places of a path where its distance to a keep-out is taken."""

CLAMP_GAP_MM = 5.0
"""mm: no cut comes nearer to a clamp (common practice)."""

COLLISION_SLACK_MM = 1e-6
"""mm: what lies no deeper in metal or in a keep-out has only touched it."""


# Loads

SECTION_SHARE = 0.065
"""Of the diameter's square: from a slot 0.07 diameters deep to a side cut 1.3 diameters deep and 0.05
wide, makers' tables for 55 to 65 HRC give no more (a general catalogue of 2022, p. 1301 and 1283)."""

SLOT_SECTION_TIMES = 2.0
"""A cutter may take this many times what a full slot of its stage takes, up to `SECTION_SHARE`: depth for
width, so that half a slot's width may be four levels deep; strips of `ONTO_WALL_SHARE` up to
`SECTION_SHARE` at once."""

FASTER_TIMES = 1.5
"""A tooth may run faster than the order gives its stage by this factor: half as fast again wears it
several times as fast (Taylor's law, v T^n constant, n 0.2 to 0.3 for coated carbide: from memory)."""

SLOWER_TIMES = 2 / 3
"""A tooth may run slower than the order gives its stage by this factor: a third slower it rubs."""

ROUNDED_SPEED_SHARE = 1e-3
"""Share by which S may be off in the text."""

TAB_SAMPLE_MM = 0.025
"""mm between the places and heights that are looked at beside tabs."""


# Edge breaks

BREAK_WIDTH_MM = 0.02
"""mm: how much wider or narrower than ordered an edge break may be."""

BREAK_SLACK_MM = 1e-6
"""mm: a chamfer mill that goes no deeper below the face has not begun to break an edge."""

TIP_BITE_MM = 0.01
"""mm: the most metal that may stand under a chamfer mill's tip."""

JUDGED_TIP_SAMPLE_MM = 0.25
"""mm between the places at which a chamfer mill's tip is looked at."""


# Digits

LAST_DIGIT_MM = 2e-4
"""mm: heights closer than this are one: programs end at 0.0001 mm or at 0.00001 in."""


# Metal that comes free

SLUG_MM2 = 0.2
"""mm2: smaller pieces out of an opening are chips."""

WASTE_MM2 = 0.5
"""mm2: smaller pieces of waste are chips."""

MOST_OF_BLADE_SHARE = 0.5
"""Of the blade's area: a larger piece is the blade itself."""

SUPPORT_BELOW_MM = 0.3
"""mm: thinner metal over a void wants support (common practice)."""

SUPPORT_VOID_MM = 0.3
"""mm: thin metal over a deeper void wants support (common practice)."""

MOST_PLACES = 5000
"""How many places are looked at, spread over the program."""

ONE_TAB_BLADE_MM = 60.0
"""mm: a blade no longer than this is held by one tab (common practice)."""

FARTHEST_OVERHANG_MM = 90.0
"""mm that an end may hang out beyond the last tab (common practice)."""

HINGE_SHARE = 0.25
"""Share of the blade's length within which tabs are one hinge (common practice)."""

SCREWED_TIMES = 10.0
"""Plate thicknesses that may hang out beyond a screw (common practice)."""

TAB_PLACE_SLACK_MM = 0.5
"""mm: places of tabs are measured, those that were ordered are moved by as much at most."""


# Gouges

DENT_MM = 0.001
"""mm: the deepest cut into the blade's faces, a cell away from its walls, that does not count."""

BREAK_DEEPER_MM = 0.02
"""mm: how much deeper an edge break may be."""

BORE_DEEPER_MM = 0.02
"""mm: how much deeper a blind bore may be."""


# Hands and stops

STOP_HEIGHT_MM = 5.0
"""mm above the plate's upper face: the least at which a hand comes near (common practice)."""

STILL_MM = 1e-6
"""mm: a motion that goes less far sideways goes straight up or down."""

HERE_MM = 1e-3
"""mm: a tip so near to a place stands there."""

UNDER_CUTTER_SHARES = (0.25, 0.5, 0.75, 1.0)
"""Shares of a cutter's radius: circles under it on which places are looked at."""

UNDER_CUTTER_PLACES = 24
"""Places on each of these circles."""


# Milling direction

SIDE_PROBE_MM = 0.002
"""mm: how far to either hand the distance to the wall is taken again, to see where it is nearest."""

BOTH_WALLS_MM = 0.03
"""mm: the deepest a finishing pass may meet on the far side."""

LEAST_CUT_MM2 = 1e-4
"""mm2: a step that takes less metal a millimetre does not count as cutting."""

ROUNDED_DEPTH_MM = 1e-3
"""mm: less depth is met by rounded digits alone, over ground that was cut."""


# Cells

SAMPLES_ONLY_CELL_MM = 0.2
"""mm: the cell of the grid where only sample columns count."""

WIDEST_CELL_MM = 0.1
"""mm: no wider cells are cut where the grid counts: cusps lie as near to each other."""

LEAST_PIECE_MM2 = 0.1
"""mm2: smaller pieces are not followed."""


# Rapids and entries

SURELY_MET_MM3 = 1.0
"""mm3: a rapid that takes more of the cells has met metal; of less it is looked at closer."""

STEEP_RAD = np.radians(30.0)
"""rad: a fall that is steeper goes straight down into what it meets."""

STEEP_BITE_MM = 0.03
"""mm: the deepest a fall steeper than `STEEP_RAD` may take off any place."""

STEPDOWN_SLACK_TIMES = 1.1
"""A depth may exceed the stepdown by this factor, and by `DEPTH_ROUNDING_MM`."""

SIDE_B_ALONE_MARGIN_MM = 0.1
"""mm: side B alone is judged up to this much below side A's trench and the tabs."""

SLOT_WIDTH_SHARE = 0.6
"""A cut over more than this share of the diameter counts as a slot, though one side is open."""

FALL_RIM_PLACES = 48
"""Places round a rim where a fall beside a wall is looked at."""

WITHIN_RIM_MM = 5e-3
"""mm within the rim where those places lie: as far as walls may be off."""

LEAST_AREA_MM2 = 1e-9
"""mm2 that metal is divided by, at least; mm that a motion goes sideways, at most, to be upright."""

SHORT_STEP_CELLS = 2.0
"""Cells: a step no longer takes a row of them or none, and says little of its depth by itself."""

LEVEL_FEED_MM = 1e-4
"""mm: a feed that falls or rises by no more goes across, and enters nothing."""

UNTOUCHED_MM = 1e-6
"""mm: less has not been cut off a place."""


# Seating and both sides' walls

SEATS_WITHIN_MM = 0.05
"""mm: how far a bore may stand off its pin and still go over it (common practice)."""

SAME_BORE_MM = 0.1
"""mm: bores whose diameters differ by less take each other's pins (common practice)."""

WALL_STEP_MM = 0.001
"""mm: how far the walls of both sides may stand apart, arithmetic and a perfect flip."""


# Speeds, feeds and lengths

QUICKER_TIMES = 1.5
"""A contact may be this much quicker than the feed that the order gives its stage."""

TOUCHES_WITHIN_MM = 0.02
"""mm: metal so near to a cutter's rim or end touches it, by runout and deflection alone."""

SAME_SPEED_SHARE = 0.01
"""Share by which a speed may differ with no time to settle."""

TIP_PLACES_AROUND = 24
"""Places round the axis that are looked at on each ring."""

TIP_RINGS = 16
"""Rings up a corner or cone, closer to each other near the end, where it is flattest."""


# Messages

MESSAGE_SLACK_MM = 1e-6
"""mm that a figure of a message may be off, besides half its last digit."""


# Tabs

TAB_THICKNESS_MM = 0.01
"""mm: how far a tab's thickness may be off."""

TAB_NARROWER_MM = 0.02
"""mm: how much narrower than ordered a tab's waist may be."""

TAB_WIDER_MM = 0.1
"""mm: how much wider than ordered a tab's waist may be."""

READ_SHARE = 0.03
"""Share by which a section is read differently beside corner radii and where the wall bends."""

BEND_STRENGTH_N_MM2 = (2500.0, 3500.0)
"""N/mm2: hardened tool steel in bending (common practice)."""

LARGEST_STUB_MM = 0.2
"""mm: how far a necked tab's stub may stand out of the blade (common practice)."""

NEAR_STATION_MM = 5.0
"""mm: a tab ordered at a station stands at most this far from it, where there is room for it."""

LEAST_TAB_BEND_MM = 15.0
"""mm: no tab need stand where the outline bends tighter than this."""


# Uncut metal

CUSP_SLACK_TIMES = 1.1
"""Cusps may be higher than predicted by this factor."""

CUSP_MORE_MM = 0.00015
"""mm that cusps may be higher besides."""

LEFT_MM2 = 0.05
"""mm2: metal inside a bore or slot of less area is not reported."""

ALIKE_MM = 0.05
"""mm: heights at which walls are seen lie so far apart; no side ends shorter by less."""

BORE_SHALLOWER_MM = 0.02
"""mm: how much shallower a blind bore may be."""


# Figures of the verdict

SENSITIVITY_STEP_MM = 0.01
"""mm: the error whose effect the sensitivity rows tell."""

LONG_ENOUGH_MM = 0.2
"""mm: removal rates of shorter motions say more about the grid's cells than about the cutter."""

FULL_SLOT_RAD = 0.8 * np.pi
"""rad: with metal on both hands, and so much of the front met, cells alone keep it from being all."""


# Disturbances

PLATE_THICKER_MM = 0.05
"""mm: change of thickness that is tried."""

PLATE_TAPER_MM = 0.02
"""mm: change along the plate's length that is tried."""

Z_ZERO_OFF_MM = 0.03
"""mm: error of side B's Z zero that is tried."""

HEIGHT_SLACK_MM = 1e-4
"""mm: what the programs' digits may add."""

THINNEST_TAB_MM = 0.2
"""mm: a thinner tab breaks."""

THICKEST_TAB_MM = 0.8
"""mm: a thicker tab does not snap by hand."""

# Loads of cutters

CLOSER_STEPS = 12
"""So many steps of a cut are looked at for its greatest loads by each of three estimates."""

RUBBING_CHIP_SHARE = 0.007
"""What rubbing adds to the force of chips, in thickness (mm) to the power of 1 - mc."""
