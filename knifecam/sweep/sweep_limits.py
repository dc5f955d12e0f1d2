"""Bounds of the sweeps: rounding, steps and searches of what a cutter takes off, and what time takes.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none. The judge's rooms have their own: none is the planner's, though
values agree.
"""

from __future__ import annotations

import math

import numpy as np

# Columns under a cutter

UNDER_RIM_MM = 1e-9
"""mm: a column this far outside the rim still counts as under the cutter."""

EMPTY_COLUMN_MM = 1e-9
"""mm: a column with less metal than this is empty, and stays so."""

ROUNDING_MM = 1e-12
"""mm: less than this is rounding, not cutting."""

RIM_SKIN_MM = 1e-3
"""mm: a skin thinner than this at the rim is cut, but is not counted as met."""

VOID_MM = 0.05
"""mm: the other side has a void where its face lies this far from where it was."""

NEARLY_UPRIGHT_SHARE = 1e-6
"""Where the corner's side is this near to upright, roots are found by halves."""

NEWTON_STEP_MM = 1e-9
"""mm: when a step of Newton's is no longer than this, the next would change nothing."""

TILE_SLACK_MM = 1e-7
"""mm: distances of tiles are taken this much too short, for rounding."""

OTHER_FACE_BEYOND_MM = -1e9
"""mm: the other face beyond the grid's end."""


# Grids

MOST_BUCKETS = 1e6
"""How many buckets there may be."""

MEMORY_SHARE = 0.8
"""Of the memory at hand that is taken at most."""

SURE_CELL_MM = 0.05
"""mm: findings are those of cells no wider; wider ones only clear what comes near no limit."""

SHORTEST_STEP_MM = 0.2
"""mm: no motion is cut in shorter steps than this, but for the turns of arcs."""

COARSEST_CELL_MM = 0.5
"""mm: no coarser cell is proposed."""


# Contact

SQUARE_MM = 2.0
"""mm: side of the squares by which motions are found."""

LEVEL_TURN_RAD = np.pi
"""rad: pieces of level arcs turn no further."""

HELIX_TURN_RAD = np.pi / 6
"""rad: pieces of helices turn no further."""

HEIGHT_SHARES = np.array([0.05, 0.45, 0.9])
"""Where the rims of corners and cones are looked at, as shares of the depth cut, besides at the
cutter's full radius, at the metal's top and where the chip is the thickest."""

LEVEL_RISE_MM = 1e-12
"""mm: a motion that rises less is level."""


# The leading rim

ENVELOPE_SKIN_MM = 1e-3
"""mm: no rim nearer than this to its motion's envelope is looked at: a wall is not met again."""

LEAST_MET_MM = 2e-4
"""mm: metal thinner than this is not met."""

SWEPT_WITHIN_MM = 1e-6
"""mm within which a place under the rim of an earlier motion is swept by it."""

AGO_MM = 1e-4
"""mm of the way before the moment looked at that do not count as cut by cutters with a flat end."""

AGO_ROUND_MM = 0.05
"""mm: the same for other cutters, whose corner leaves next to nothing of what it has just passed."""

GOLDEN_SHARE = 0.5 * (math.sqrt(5.0) - 1.0)
"""Golden section: the share of a stretch that a step of the search keeps."""

THICKER_CHIP_TIMES = 1.004
"""The search for the thickest chip ends where no part of the edge can take one thicker by this."""

LEAST_CHIP_SHARE = 0.01
"""Chips of a smaller share of the feed per tooth are not searched for."""

BELOW_TOP_MM = LEAST_MET_MM * (1.0 + 1e-6)
"""mm: so far below its top metal is met."""


# Walls

CAME_NEAR_MM = 0.5
"""mm: a cutter that stays farther away than this has not come near."""

REACHED_MM = 1e-9
"""mm: a tip this little above a height still counts as having reached it."""

TIE_MM = 1e-8
"""mm: of motions that come this equally near the first is named."""

ALONG_PATH_MM = 1e-6
"""mm: along the path; the error changes by the square of this where it is least."""


# Loose pieces

OVERLAP_MM = 0.02
"""mm: neighbour columns hold together when their intervals overlap by more than this."""


# Time

CORNER_S = 0.005
"""s: over which a corner is spread (common practice for small mills)."""

STOP_S = 60.0
"""s: a hand stop (common practice)."""

CHANGE_BY_HAND_S = 120.0
"""s: a cutter change by hand (common practice)."""

CHANGE_S = 10.0
"""s: a cutter change by the mill (common practice)."""

SAME_WAY_SHARE = 1e-9
"""Directions that differ by less are one."""


# A side's program

LEAST_CONTACT_MM3 = 1e-6
"""mm3: a motion that takes more has touched metal."""

OUT_OF_THE_WAY_MM = 1e4
"""mm above the plate: where motions without a known cutter are put, so that they cut nothing."""


# Steps

STEEPEST_STEP_RAD = np.pi / 6
"""rad: no step turns further along an arc."""

UPRIGHT_MM = 1e-9
"""mm: a motion that goes less far sideways is upright: its lowest place counts, and no heading."""

BEFORE_RIM_CELLS = 0.71
"""Cells before the rim where metal beside the cutter is looked for: half a cell's diagonal."""
