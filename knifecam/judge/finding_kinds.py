"""The kinds of finding: what each means, what would do, what it rests on; and the page of them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple


class Kind(StrEnum):
    """What is wrong, in a word."""

    SYNTAX = "syntax"
    UNKNOWN_CUTTER = "unknown-cutter"
    LENGTH_OFFSET = "length-offset"
    WORK_OFFSET = "work-offset"
    STALE_ZERO = "stale-zero"
    PATH_MODE = "path-mode"
    RESTART = "restart"
    PROBE = "probe"
    TRAVEL = "travel"
    FIRST_MOVE = "first-move"
    STOP = "stop"
    STOP_TEXT = "stop-text"
    DWELL_IN_METAL = "dwell-in-metal"
    SPINDLE = "spindle"
    COOLANT = "coolant"
    FEED = "feed"
    SURFACE_SPEED = "surface-speed"
    LIFE = "life"
    CLEARANCE = "clearance"
    RAPID_CONTACT = "rapid-contact"
    REACH = "reach"
    SHANK_CONTACT = "shank-contact"
    KEEP_OUT = "keep-out"
    FIXTURE_CUT = "fixture-cut"
    STEEP_ENTRY = "steep-entry"
    SLOT_DEPTH = "slot-depth"
    SECTION = "section"
    WALL_STOCK = "wall-stock"
    BOTH_WALLS = "both-walls"
    CONVENTIONAL = "conventional"
    GOUGE = "gouge"
    UNCUT = "uncut"
    PARTING_RIDGE = "parting-ridge"
    MISMATCH = "mismatch"
    BEVEL_STOCK = "bevel-stock"
    DOWN_SLOPE = "down-slope"
    NEAR_AXIS = "near-axis"
    THIN_EDGE = "thin-edge"
    TAB = "tab"
    WAIST = "waist"
    TAB_SECTION = "tab-section"
    OVERHANG = "overhang"
    LOOSE_PART = "loose-part"
    LOOSE_SLUG = "loose-slug"
    LOOSE_WASTE = "loose-waste"
    BORDER = "border"
    UNSUPPORTED = "unsupported"
    SEATING = "seating"
    SIDE_THICKNESS = "side-thickness"


class FindingKind(NamedTuple):
    """What a kind of finding means, and what is known of it wherever it is found.

    ``meaning`` says when it is found, ``remedy`` what would do where a finding brings no better one
    of its own. ``rests_on`` names keys of the order that it rests on, whatever its line says;
    "cutters" is there the cutter that the finding marks. ``of_the_text`` tells that it is about how
    a program is written, whatever plate lies under it.
    """

    meaning: str
    remedy: str
    rests_on: tuple[str, ...] = ()
    of_the_text: bool = False


GROUPS: dict[str, dict[Kind, FindingKind]] = {
    "The text": {
        Kind.SYNTAX: FindingKind(
            "the text is not RS274/NGC, or says what the reader refuses by name; that side is then "
            "not cut; or a line begins with a slash, so that a switch of the mill decides whether it "
            "runs",
            "write it as RS274/NGC has it",
            of_the_text=True,
        ),
        Kind.UNKNOWN_CUTTER: FindingKind(
            "a cutter is called that the order does not have, or feeds begin before any is called; or "
            "the gauge pin moves below the plate's face or with the spindle on",
            "add it to the order",
            of_the_text=True,
        ),
        Kind.LENGTH_OFFSET: FindingKind(
            "the cutter moves down with no `H`, or with that of another cutter",
            "give G43 with the cutter's own number after every change",
            of_the_text=True,
        ),
        Kind.WORK_OFFSET: FindingKind(
            "a work offset other than that side's is in force",
            "select the side's own work offset before moving",
            of_the_text=True,
        ),
        Kind.STALE_ZERO: FindingKind(
            "`G10` or `G92` in a cutting program changes an offset",
            "keep G10 out of cutting programs; set zeros in a program of their own",
            of_the_text=True,
        ),
        Kind.PATH_MODE: FindingKind(
            "feed motions run in `G64`, which rounds corners",
            "put G61 in the start block",
            of_the_text=True,
        ),
        Kind.RESTART: FindingKind(
            "a cut relies on modes that an earlier one has set",
            "state every mode, cutter, spindle, air and height again where a cut begins",
            of_the_text=True,
        ),
        Kind.PROBE: FindingKind(
            "a cutter probes (`G38.2`): while it turns, with no metal up to the end, or at all, since "
            "the order has no probe and no text tells where it stops",
            "probe in a program of its own, with a probe in the spindle and the spindle off",
        ),
        Kind.TRAVEL: FindingKind(
            "the motions need more travel than the mill has",
            "use a mill of longer travel",
            rests_on=("mill.travel", "mill.travel_from"),
        ),
    },
    "Stops and first moves": {
        Kind.FIRST_MOVE: FindingKind(
            "after `G43` the first motion is not Z alone, up to the rapid height, or right after a "
            "change up to the change height; or a rapid goes sideways below the rapid height",
            "move Z alone up to the rapid height, or after a change to the change height, then X and "
            "Y",
            of_the_text=True,
        ),
        Kind.STOP: FindingKind(
            "at a hand stop, a change by hand or the end the tip is below the change height or away "
            "from the place for it, or spindle or air is on; a hand changes a cutter with no stop "
            "before it; a cutter cuts before its length is checked by a stop to read the gap, one for "
            "a block, and one to take the block away (unless `setup.gap_stop = false`); a length is "
            "checked where the plate is not bare (cut on that side, cut from below, over the blade or "
            "a plate edge, or nearer to a clamp than the holder and 5 mm); work resumes without "
            "spindle, dwell and air",
            "stop at the change height with spindle and air off, and prove each cutter's length over "
            "bare plate",
            of_the_text=True,
        ),
        Kind.STOP_TEXT: FindingKind(
            "a stop's message is not what follows in the program or what the order says, or a message "
            "that the order needs is missing: [what stops tell the hand](stops.md)",
            "let the message say what follows, in the words of docs/reference/stops.md",
            of_the_text=True,
        ),
        Kind.DWELL_IN_METAL: FindingKind(
            "the program stops or dwells, or the spindle stops or starts, with the cutter in metal; "
            "or the cutter meets metal at another speed with no dwell for the spindle to settle",
            "lift the cutter clear of the metal first",
        ),
    },
    "Spindle, coolant, feed": {
        Kind.SPINDLE: FindingKind(
            "contact with the spindle off, backward, not up to speed, or out of the mill's range",
            "give M3 with S within the mill's range, and dwell until the spindle is up to speed",
            rests_on=("mill.spindle_low", "mill.spindle_high"),
        ),
        Kind.COOLANT: FindingKind(
            "contact with the mill's air word off, or with the other coolant word on",
            "give the mill's air word before the cut, and no other",
            rests_on=("mill.coolant_code",),
        ),
        Kind.FEED: FindingKind(
            "no feed, or more than the mill's; in metal, a contact that moves, or a tooth that takes, "
            "more than 1.5 times what the order gives that cutter in that stage. The contact is where "
            "the rim faces a wall that stays: in a bore of 5 mm a cutter of 3 mm moves along the wall "
            "2.5 times as fast as its axis",
            "lower F on this line",
            rests_on=("mill.feed_high",),
        ),
        Kind.SURFACE_SPEED: FindingKind(
            "teeth in metal run more than 1.5 times as fast as the order gives that cutter in that "
            "stage, or slower than two thirds of it",
            "give the S that the order gives that cutter in that stage",
        ),
        Kind.LIFE: FindingKind(
            "one cutter is in contact longer than it lives. A fresh one goes in at a stop by hand "
            "before its own number is called again, or at one whose message (`MSG`) asks for a fresh "
            "one",
            "split the cut and change the cutter",
        ),
    },
    "Rapids and clearances": {
        Kind.CLEARANCE: FindingKind(
            "a rapid goes sideways lower than the order's rapid height above the highest of plate (at "
            "its thickest measured place), clamps and screws; a rapid down ends below the height at "
            "which feed is to begin above the plate's thickest place, or in the plate with thickness "
            "or zero a little off; a feed below that height crosses bare plate for more than its "
            "cutter's diameter and meets nothing",
            "go across at the rapid height, and end rapids down where feed is to begin",
        ),
        Kind.RAPID_CONTACT: FindingKind(
            "a rapid takes metal",
            "feed where there is metal, and go sideways at rapid height",
        ),
        Kind.REACH: FindingKind(
            "the cutter takes metal above its flutes, or metal beside it stands higher than its neck "
            "reaches (than its flutes, where the neck is not relieved)",
            "use a cutter of longer flutes or neck",
            rests_on=("cutters.flute_length", "cutters.reach", "cutters.neck"),
        ),
        Kind.SHANK_CONTACT: FindingKind(
            "shank or holder touches the plate",
            "use a cutter of longer reach",
            rests_on=("cutters.shank", "cutters.stickout", "cutters.cone", "cutters.holder"),
        ),
        Kind.KEEP_OUT: FindingKind(
            "any part of cutter or holder enters a clamp or a screw's head",
            "go over it at rapid height, or set it elsewhere",
            rests_on=("cutters.stickout", "cutters.holder"),
        ),
        Kind.FIXTURE_CUT: FindingKind(
            "the tip goes below the fixture's face, or below what `setup.fixture_allowance` permits",
            "stop above the fixture, or give fixture_allowance for a relieved or sacrificial fixture",
        ),
    },
    "Loads of the cutter": {
        Kind.STEEP_ENTRY: FindingKind(
            "the cutter enters solid metal more steeply than it may",
            "enter by a ramp or a helix, or over ground already cut",
            rests_on=("cutters.ramp", "cutters.centre_cutting"),
        ),
        Kind.SLOT_DEPTH: FindingKind(
            "a slot is deeper than the cutter's stepdown in that stage: metal on both sides at once, "
            "or over more than 0.6 of the cutter's diameter with one side open. A web over the other "
            "side's trench may be as thick as ordered. A bore's or slot's skin is no web",
            "add the level that is missing, or open the slot first",
        ),
        Kind.SECTION: FindingKind(
            "a cutter that opens takes a larger section at once than twice a full slot of its stage, "
            "or than 0.065 of its diameter squared (a strip narrower than a tenth of the diameter: "
            "the latter alone). That is a pillar or a strip removed in one pass. What the order gives "
            "a slot is always allowed",
            "take it in levels, or in thinner laps: what stands there was left by a pass before",
        ),
        Kind.WALL_STOCK: FindingKind(
            "a pass that finishes a wall, a bore or a slot meets more stock than 1.25 times what the "
            "stage before was to leave, and 0.02 mm, deeper than a level or a web. Beside tabs the "
            "wall is looked at every 0.025 mm",
            "rough the wall closer first, to the allowance ordered",
        ),
        Kind.BOTH_WALLS: FindingKind(
            "a finishing pass cuts on both sides of the trench",
            "rough the trench wider than the finishing cutter first",
        ),
        Kind.CONVENTIONAL: FindingKind(
            "a finished wall, the wall of a skin that side B opens, a notch of the jimping, an edge "
            "break, or a bevel's finishing pass is cut by conventional milling",
            "cut outsides clockwise and insides counter-clockwise, in this side's own frame",
        ),
    },
    "The blade": {
        Kind.GOUGE: FindingKind(
            "the cutter took metal of the blade: of its faces, of its walls, or more than 1 um below "
            "a bevel, square to it; or an edge break is too wide",
            "check cutter, length, zero and flip; the program cuts what should stay",
        ),
        Kind.UNCUT: FindingKind(
            "metal stands where a wall, a bore or a slot should be; cusps on a bevel are higher than "
            "the ordered stepover leaves in the direction of its passes (by 10 % or 0.15 um); a land "
            "is more than 5 um too thick; an edge break is too narrow",
            "finish it there, to its full size and depth",
        ),
        Kind.PARTING_RIDGE: FindingKind(
            "corner radii leave metal between the two sides' walls, 5 um high or more",
            "let the sides overlap by more than their cutters' corner radii",
        ),
        Kind.MISMATCH: FindingKind(
            "the two sides' walls or bores disagree",
            "check datum, flip axis and registration of side B",
        ),
    },
    "Bevels": {
        Kind.BEVEL_STOCK: FindingKind(
            "a finishing or semi-finishing pass of a bevel, level or not, meets more than the stage "
            "before was to leave: stairs, a missing semi-finish, waste beside it; or a roughing level "
            "goes deeper than that stage's stepdown (by 1.25 and 0.02 mm), also in the mean over what "
            "it meets",
            "clear the waste beside the bevel and cut its stages before it is finished",
        ),
        Kind.DOWN_SLOPE: FindingKind(
            "a bevel is finished down its slope, where the cutter's flat end scrapes ahead of its "
            "corner",
            "travel along the edge, or up from the edge to the grind line",
        ),
        Kind.NEAR_AXIS: FindingKind(
            "a bevel is finished nearer to the cutter's axis than 15 % of its diameter, where the "
            "cutter rubs; or the flat tip of a chamfer mill, which does not cut, enters metal. A "
            "plunge's own cutter is exempt in the plunge and as far before it as the bevel's cutter "
            "swings: nothing else fits there",
            "use a bull-nose cutter: it touches near its rim",
        ),
        Kind.THIN_EDGE: FindingKind(
            "the land is more than 5 um thinner than ordered, or may become thinner than 0.05 mm with "
            "plate and zeros disturbed; or the land's wall is milled when both bevels are finished",
            "check cutter lengths, diameters and both sides' zeros",
        ),
    },
    "Tabs and plate": {
        Kind.TAB: FindingKind(
            "number, thickness or stations of the tabs are not as ordered (a tab whose station has no "
            "room may stand elsewhere), a tab is severed, or a neck is not as thick as ordered or "
            "leaves a stub that stands out",
            "check the Z of both sides over the tab",
        ),
        Kind.WAIST: FindingKind(
            "a tab's narrowest width is not as ordered",
            "lift the axis over waist and cutter diameter together",
        ),
        Kind.TAB_SECTION: FindingKind(
            "the section midway, and so the moment that snaps the tab, is not that of the ordered "
            "waist, thickness and slopes (waist and thickness within their tolerances, and 3 %); the "
            "stub is wider than waist and cutter together, where no neck is ordered; a neck takes "
            "another moment to snap than its ordered width, thickness and slopes give, within the "
            "same tolerances",
            "begin each lift over a tab so that it rises at tabs.ramp_up and ends at its waist",
        ),
        Kind.OVERHANG: FindingKind(
            "an end of the blade hangs out more than 90 mm beyond the last tab, or more than 10 plate "
            "thicknesses beyond the nearest screw with no tab; tabs within a quarter of a blade of "
            "more than 60 mm are its only hinge. A clamp on the far end exempts the blade",
            "let tabs stand nearer to both ends, hold it by screws, or clamp its far end",
        ),
        Kind.LOOSE_PART: FindingKind(
            "the blade comes free before it may",
            "leave tabs or screws that hold it until the end",
        ),
        Kind.LOOSE_SLUG: FindingKind(
            "a piece comes free inside a bore or slot",
            "clear the opening from its inside outward",
        ),
        Kind.LOOSE_WASTE: FindingKind(
            "another piece of waste comes free",
            "cut it away whole, or leave it joined to the plate",
        ),
        Kind.BORDER: FindingKind(
            "too little plate stays outside the trench, or a cut runs close to a clamp",
            "use a larger plate, or move the blade in it",
            rests_on=("outline.border",),
        ),
        Kind.UNSUPPORTED: FindingKind(
            "a thin floor is cut over a void that nothing fills",
            "fill side A's grooves before the flip, scraped flush",
        ),
        Kind.SEATING: FindingKind(
            "the plate fits its pins in another way too, or turns about a single one; a reference "
            "bore is not where it should be; or a screw has no through bore to go into",
            "use two pins or more, of unequal diameters, and measure bores where they are",
        ),
        Kind.SIDE_THICKNESS: FindingKind(
            "the blade is not as thick as the plate; or with plate and zeros disturbed, tabs are not "
            "0.2 to 0.8 mm thick, the walls no longer meet, or a tip reaches the fixture",
            "let the sides overlap more, and order tabs and skins that bear a plate and zeros a "
            "little off",
        ),
    },
}


FINDING_KINDS: dict[Kind, FindingKind] = {
    kind: about for group in GROUPS.values() for kind, about in group.items()
}

PAGE_BEGINS = """\
# Findings

Generated from the list of kinds (`python -m knifecam.judge.finding_kinds`); do not edit it.

This page lists what the simulator can find in two programs' texts. Each finding names the side, the
line, the place in the part frame, what was measured, what is allowed, and what to change. Messages are
in the order's unit. `measured`, `allowed` and `place` are in mm, as all figures of the verdict.
`verdict.json` holds each as `{"kind", "side", "line", "message", "place", "measured", "allowed",
"remedy"}`.

A finding's own remedy stands in place of the general one below wherever it can say more, such as the
height or the speed to give.
"""

PAGE_ENDS = """\
## The verdict

`verdict.json` ([its keys](verdict.md)) begins with `order`: the order's digest, those that the
programs' heads name, and `fits`. `fits` is false where a program was written for another order, and
null where one does not say. `ok` is true where both sides were seen and nothing was found. `state` is
then "proved". Otherwise it is "not proved" or, where nothing was found but one side was not seen, "one
side". `make` also lists the `files` it wrote, with the SHA-256 of each text.

## What is never judged

`verdict.json` lists under `not_judged` what the simulator cannot see: chips under the plate, bow that
is relieved when the plate is opened, a cutter that slips, wears or runs out, chips packed in the
trench, numbers typed wrong at the mill, and, for now, forces, deflection and heat. Travel is judged by
its extent alone unless the order gives machine zero. Where the order names no clamp on a side, the list
says how high one may stand there. Stops in words other than those of [the page of stops](stops.md) are
listed by line.

## How it is judged

The stage of a motion is known by what it touches, never by what the text says of itself. Bores, slots
and notches are known by where the axis stands, the trench and the blade's wall by the distance from the
outline, a bevel's stages by what is left between the cutter and the finished surface. Where several of
the cutter's stages fit, the widest of their limits counts.

A stop lower than the change height passes only as a length check: reached straight down by feed from a
stop high up, and left straight up again. `M1` counts only where no new cutter went in, since a switch
may skip it.
"""


def write_reference() -> str:
    """Return the Markdown of docs/reference/findings.md."""
    return "\n".join([PAGE_BEGINS, *_tables(), PAGE_ENDS])


def _tables() -> Iterator[str]:
    for title, group in GROUPS.items():
        yield from (f"## {title}", "", "| kind | found when | what would do |", "|---|---|---|")
        for kind, about in group.items():
            yield f"| `{kind}` | {about.meaning} | {about.remedy} |"
        yield ""


if __name__ == "__main__":
    sys.stdout.write(write_reference())
