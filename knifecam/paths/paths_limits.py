"""Bounds of paths: how near they follow a curve, how they lead on and off, where they are looked at.

Each number of this room that bounds or steers geometry or judgement stands here, once. Its name
ends in its unit; a count has none.
"""

from __future__ import annotations

import math

import numpy as np

# Passes along bevels

BEVEL_PASS_SAMPLE_MM = 0.5
"""mm between the places of a pass at which it is looked at."""

INSIDE_BLADE_MM = 0.02
"""mm inward of the place touched that a pass must lie on the blade."""

PAST_BLADE_MM = 0.3
"""mm that a pass goes on past the place where it has left the blade."""

SHORTEST_MOTION_MM = 1e-6
"""mm: shorter motions are left out."""


# Where cutters stand to bevels

STRAIGHT_RAD = 1e-10
"""rad: lines that meet at a smaller turn are one line."""


# Passes along curves

CONTINUES_WITHIN_MM = 1e-6
"""mm: a pass that begins this near the end of the last goes on without lifting."""

CHAIN_PIECE_MM = 1.0
"""mm, the radius of a cutter of 2 mm: a chain of shorter pieces turns as the arc it stands for."""

KINK_RAD = 1e-3
"""rad: pieces that meet at no more are tangent."""


# Edge breaks

BREAK_LAP_OVER_MM = 0.8
"""mm by which a lap runs past its own beginning."""

CONE_CLEAR_MM = 0.05
"""mm by which the cone stands off the edge where it comes down."""

LEAST_ARM_MM = 0.6
"""mm: least radius of the arcs that lead onto a break and off it."""

LAP_PLACES = 193
"""Places of a lap at which room to begin is looked for."""

BREAK_END_RESERVE_MM = 0.05
"""mm kept in hand of the room that a break's ends have to fade out in."""


# Inner corners

LEAST_REMAINDER_MM = 0.0005
"""mm: a smaller remainder is not worth a word."""

SHARP_INNER_RAD = 0.1
"""rad: no cutter fits a corner that turns more; what turns less is a chord of something round."""

TANGENT_PIECES_RAD = 1e-6
"""rad: pieces that turn less where they meet are tangent."""

STILL_TOUCHES_MM = 1e-9
"""mm: a cutter that comes no nearer than this too near still touches."""


# Parallel curves

EXACT_PATH_MM = 1e-6
"""mm: how far a path found the exact way may be from the distance."""

NUDGE_SHARES = (0.02, 0.09, 0.23, 0.41)
"""Shares of the tolerance by which the distance is made larger where the exact way fails."""

REFIT_FROM_PIECES = 250
"""Pieces above which a track is fitted anew."""

FIT_CHORD_MM = 1e-4
"""mm: points for the fit are taken so near to each other."""

FARTHER_SHARE = 0.2
"""Share of the band by which a fitted track keeps farther off, so that it is never too near."""


# Parallel curves measured

NEAREST_ANYWAY_MM = 1e-9
"""mm: where the piece walked along is no farther than this, the others need not be asked."""

BETWEEN_PLACES_MM = 5e-4
"""mm: nothing that reaches deeper into the path than this can hide between two places measured."""

POINT_PIECE_MM = 1e-9
"""mm: a piece this short is a point."""

STANDS_WITHIN_MM = 1e-7
"""mm: a path this near to where a cutter can stand passes there."""


# The integer clipper

GRID_STEPS_PER_MM = 1e6
"""Steps of the clipper's integers to the mm."""

VERTEX_TURN_RAD = 0.3
"""rad: a turn above this stays a vertex."""


# Loops

SLIVER_MM = 1e-3
"""mm: what does not close and is shorter is a sliver beside the loops, not a part of one."""

SHORTEST_PIECE_MM = 0.002
"""mm: no piece of a path is shorter."""

TINY_PIECE_MM = 0.02
"""mm: a piece shorter than this keeps its bend, not its heading, when one end is moved."""

CORNER_CUT_MM = 1e-4
"""mm: a corner is cut by no more than this where a piece can be lengthened instead."""

LEAST_LOOP_MM = 3 * SHORTEST_PIECE_MM
"""mm: a loop no longer than this all round is no loop."""


# Openings

ONE_HELIX_DIAMETERS = 1.9
"""Cutter diameters: a wider bore keeps a core under one helix, and is cleared from inside first."""

FEW_LEAD_PLACES = 29
"""Places of a track where a lead is tried."""

MORE_LEAD_PLACES = 96
"""Places of a track where a lead is tried once none of the few has room for its arc."""

MOST_LEAD_PLACES = 480
"""Places of a track where a lead is tried at last, once none of those before has room for its arc."""

LEAD_ARC_RADII = np.geomspace(4.0, 0.1, 20)
"""Cutter radii: arcs tried where the usual ones turn onto the wall too sharply."""

ASIDE_SHARES = (0.1, 0.2, 0.35, 0.6, 1.0)
"""Of an arc's radius: how far such an arc begins beside the track's tangent."""

ARC_CLEAR_MM = 0.02
"""mm off the stock where such an arc begins, and off the wall where it ends."""

LEAD_PLACES = 24
"""Places of an arc where it is seen what is met."""

RIM_PLACES = 240
"""Places of the cutter's leading half where it is seen what is met."""


# Plunges

BORDER_MM = 0.12
"""mm off the edge up to which the surface, prolonged, is followed down."""

DIRECTION_STEP_MM = 1e-5
"""mm: how far apart distances are taken for a direction."""

CREASE_SLOPE = 0.01
"""By how much the slope may change from one place to the next before a crease is looked for."""

CREASE_HALVINGS = 12
"""How often the stretch with a crease is halved."""

ROLLED_PLACES = 9
"""Places by which a cutter rolls over a crease."""

SAFE_MM = 0.02
"""mm a cutter stops before the place where it would touch: more than the looking leaves open."""

RIM_PLACES_AROUND = 73
"""Places round the rim that are looked at."""

CORNER_PLACES = 9
"""Places up the rim's corner that are looked at."""

WAY_CHORD_MM = 1e-4
"""mm: how far straight ways may lie from the places between their ends. On a hollow bevel they bridge
it, which adds to the cusps."""

WAY_SAMPLE_MM = 0.2
"""mm between the places at which a way is looked at, whether it meets the blade."""

UPWARD_FROM_RAD = math.radians(25.0)
"""rad: passes that fall more steeply run the other way, upward."""

PLUNGE_PASS_SAMPLE_MM = 0.1
"""mm between the places along a pass."""

PAST_FLAT_MM = 0.1
"""mm above the blade's flat up to which the surface, prolonged, is followed."""

LEAD_RADIUS_MM = 1.0
"""mm: radius of the arc on which passes begin and end beside a plunge."""

LEAD_ASIDE_MM = 0.3
"""mm: how far to the side that arc begins and ends."""

LEAD_SPARE_MM = 0.05
"""mm above the stock it meets at which a pass begins and ends."""

ALONG_FALL_MM = 1.0
"""mm over which a pass that comes from beyond the blade falls to its height."""


# Pieces moved sideways

MITRE_SLACK_MM = 5e-7
"""mm: a convex corner is mitred instead of rounded where that leaves no more than this."""

TANGENT_RAD = 1e-9
"""rad: pieces that meet at a smaller turn are tangent."""

SPREAD_MM = 0.3
"""mm between the places of a parallel curve that are measured."""

LEAST_SHRUNK_MM = 0.05
"""mm of radius that an arc keeps at least."""

EXACT_CURVE_MM = 1e-5
"""mm: how far the curve found may be from the distance."""


# Trenches

TRENCH_LAP_OVER_MM = 0.5
"""mm by which a lap runs past its own beginning."""

NEXT_TRACK_LOOK_MM = 0.5
"""mm further on a way to the next track is looked for where the last one met a tab."""

FARTHER_WAY_MM = 1e-3
"""mm by which a way between tracks may lie farther from the wall than the outermost track."""

FULLER_CORNER_MM = 0.0005
"""mm: a corner that holds no more than this beyond the allowance is left to the finishing pass."""

CORNER_EXCESS_SHARE = 1.0 / np.cos(np.radians(20.0) / 2) - 1.0
"""Of the allowance: so much more stands where two walls meet at a turn of 20 degrees. In shallower
ones the finish meets its allowance on both, over an angle wider by no more than that turn."""

TIGHT_RADII = 0.15
"""Cutter radii: on a narrower inner turn than this the finish meets far more than its allowance
(common practice: inner corners of 1.15 cutter radii at least)."""

TRACK_SAMPLE_MM = 0.1
"""mm between the places of a track that are looked at, its vertices and arcs' middles aside."""

STRIP_PLACES = 16
"""Places of a straight where the strip met there is taken."""

SAMPLE_HALVINGS = 30
"""Halvings of `TRACK_SAMPLE_MM`: what is left is far below a written digit."""

TRACK_GOUGE_MM = 1e-6
"""mm: a way nearer to the wall than the track by more is refused."""
