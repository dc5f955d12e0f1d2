"""What counts as harm, in mm and in words: the only place where it is stated.

The figures are the order's tolerances of the arithmetic (a wall within 5 um, a bevel gouged by no
more than 1 um, a land within 5 um, a tab within 10 um, its waist -20 and +100 um, a floor within
20 um) with a band on either side, since the good programs are themselves off by up to 1 um. A change
within the lower figure is harmless, past the upper one harmful, between them "near", counted apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

HARMLESS_WALL, HARMFUL_WALL = 0.004, 0.006
"""mm: how far a wall, a bore or a slot may move."""

SKIN = 0.02
"""mm: metal that appears or goes at a wall's sight counts as the wall moved past it when thicker."""

HARMLESS, HARMFUL, NEAR = "harmless", "harmful", "near"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A change of ``low`` mm is harmless, one of ``high`` mm harmful."""

    low: float
    high: float

    def of(self, amount: float) -> str:
        """Return the class of a change."""
        if amount >= self.high:
            return HARMFUL
        return HARMLESS if amount <= self.low else NEAR


LOWER_BEVEL = Band(low=0.001, high=0.002)
"""mm: metal gone from a bevel or plunge (gouge over 1 um)."""

HIGHER_BEVEL = Band(low=0.001, high=0.005)
"""mm: metal left on a bevel or plunge; the ordered cusps are about 3 um."""

LOWER_FLAT = Band(low=0.001, high=0.002)
"""mm: metal gone from the blade's flats, which are the plate's faces."""

LAND = Band(low=0.004, high=0.006)
"""mm: the height of either face just inside the wall."""

FLOOR = Band(low=0.015, high=0.025)
"""mm: the floor of a blind bore."""

LEFT = Band(low=0.01, high=0.03)
"""mm: metal left in a through opening."""

BRIDGE = Band(low=0.02, high=0.1)
"""mm: metal left in the trench where no tab is: it holds the blade, or breaks out of it."""

TAB_THICKNESS = Band(low=0.009, high=0.012)
TAB_NARROWER, TAB_WIDER = Band(low=0.015, high=0.03), Band(low=0.09, high=0.12)
"""mm"""

SNAPS = Band(low=1.15, high=1.5)
"""Moment that snaps a neck as a multiple of the good one's."""

HANGS = Band(low=60.0, high=100.0)
"""mm that an end of the blade hangs out beyond the last tab: 10 N on a bar held so far off lift it by
some tenths of a millimetre (reckoned with the bench: 0.8 mm at 110 mm)."""

HANGS_MORE = 1.0
"""mm: by less it hangs out no farther than before."""

WASTE = Band(low=0.3, high=1e9)
"""mm: a cut into waste hurts no blade; deep ones are near, since they may meet a clamp or the frame."""

RAPID = Band(low=1e-4, high=1e-3)
"""mm of metal met by a rapid."""

CONTACT = 1e-4
"""mm of metal taken at a sight: below that a motion has not met metal."""

BED = Band(low=1e-4, high=0.01)
"""mm below what the fixture allows."""

LOAD = Band(low=1.1, high=1.8)
"""Metal under the middle of the cutter, as a multiple of the deepest that the same cutter takes in
the good programs of that side: a stepdown skipped doubles it. Harmful is also no less than the lower
figure times the depth that the order gives the cutter."""

LOAD_NEAR, LOAD_SLACK = 0.005, 0.02
"""mm that the lower and the upper of these figures may be passed by."""

LEAST_LOAD = 0.02
"""mm: any cutter takes as much."""

TALL, TALL_LEVELS = 1.0, 10.0
"""mm, and times the depth ordered in metal: what stands so tall from a cutter's axis to 0.6 of its
radius and is mown in one go breaks it (tables give a section of 0.065 of the diameter's square at
most, from a slot of 0.07 by the diameter to a side cut of 1.3 by 0.05 diameters)."""

WALL_TALL = 0.3
"""mm by which metal well within the rim of a pass that finishes a wall is taller than any level."""

STOCK = Band(low=1.2, high=2.2)
"""Metal met by the passes that bring a bevel to its height, one by one and together, as a multiple of
what they meet in the good programs, which is what the order lets the stage before leave: a stage left
out more than doubles it."""

FINISHED = 0.015
"""mm from its finished height within which a pass counts as one that finishes a bevel."""

LIFE = Band(low=0.95, high=1.1)
"""Minutes in metal with one edge as a share of the cutter's life by the order. The oracle's minutes
are those of motions that meet metal at a sight, a few hundredths too few."""

LIFE_MORE = 0.1
"""min: by less an edge is not longer in metal than before."""

FRAME = 1.0
"""mm: ground cut nearer by this to the plate's edge than the ordered frame is wide is harmful, since
clamps stand there; any is near."""

STEEPER = Band(low=1.2, high=1.6)
"""Fall into solid metal as a multiple of the steepest that the cutter does in the good programs, or
of `DESCENT` where that is steeper."""

DESCENT = 20.0
"""Degrees: a fall no steeper than this, as off a tab, may go into solid metal as deep as a stepdown;
deeper ones are loads (common practice: 10 to 20 degrees)."""

FALLS_INTO = 0.03
"""mm of metal under the middle of the cutter that make a fall one into solid metal; met by its rim
alone they make it near."""

QUICK = Band(low=1.4, high=1.7)
"""Feed, and chip a tooth, as a multiple of the greatest that the order gives the cutter."""

FAST, LAGS = Band(low=1.2, high=1.7), Band(low=1.2, high=np.inf)
"""Teeth's speed in metal as a multiple of what the same cut of the good program has, and the other way
round, which makes them rub and is no more than near. Tables give ranges of 1.4 to 1.6 from least to
most (a general catalogue of 2022, p. 1301: 50 to 80 m/min in slots at 55 to 65 HRC)."""

SLOW = 0.3
"""Share of the least feed or chip ordered below which the cutter rubs: near."""

HITS = Band(low=0.0, high=0.05)
"""mm that cutter, shank or holder run into a clamp or a screw's head."""

SPEED = 0.02
"""Share by which a speed may be another with the cutter in metal: the spindle settles meanwhile."""

WAIT = 0.5
"""Share of the spindle's spin-up below which it is harmful to meet metal; up to 1 is near."""

AGAINST = 1.0
"""mm of a finished wall cut on the wrong hand of travel that are harmful; any is near."""

OPTIONAL = 10
"""M1, which a switch of the mill leaves out, as the reader numbers it."""

AT_HAND = 5.0
"""mm above the plate: the least at which a hand comes near (common practice)."""
