"""Words gone wrong: zeros, modes, cutters, lengths, spindle, air, feeds, stops."""

from __future__ import annotations

from dataclasses import replace

from knifecam.shop import Mill, Order
from tests.agreement.orders import simple_order
from tests.sabotage import harness as spoil
from tests.sabotage.case import (
    BORES,
    SLOTS,
    TRENCH,
    WALL,
    Change,
    at,
    first_contact,
    inserting,
    on_order,
    on_text,
    opening,
    whole,
    without,
)
from tests.sabotage.made import ORDERS, with_cutter, with_setup


def aside() -> Order:
    """Cutters are changed at a place beside the plate."""
    return with_setup(simple_order(), mill=Mill(change_place=((-40.0, -30.0), (-40.0, 30.0))))


ORDERS["aside"] = aside


# --- zeros, offsets, modes -----------------------------------------------------------------------
on_text("stale-zero", "A", "G92 in a cut", inserting("G92 X0.0", r"^G0 X", cut=TRENCH))
on_text("stale-zero", "B", "G10", inserting("G10 L2 P2 X0.0 Y0.0 Z0.0", r"^T1 M6", cut=TRENCH))
on_text("path-mode", "A", "G61 dropped", whole(lambda t: t.replace(" G61", "")))
on_text(
    "path-mode",
    "B",
    "G64 in the wall's cut",
    first_contact(at("G61", "G61", "G64", cut=WALL), r"^G1 Z", WALL),
)
on_text("restart", "A", "modes of a cut dropped", opening(without(r"^G21", cut=TRENCH), TRENCH))
on_text("restart", "B", "no cutter called in a cut", opening(without(r"^T1 M6", cut=SLOTS), SLOTS))
on_text(
    "restart", "A", "feed word dropped", opening(at(r" F\d", r" F[0-9.]+", "", cut=TRENCH), TRENCH)
)
on_text(
    "work-offset",
    "B",
    "side A's offset in one cut",
    first_contact(at("G55", "G55", "G54", cut=TRENCH), r"^G1 Z", TRENCH),
)
on_text("work-offset", "A", "an offset nobody set", whole(lambda t: t.replace("G54", "G57")))
on_text("travel", "A", "inches", whole(lambda t: t.replace("G21", "G20")))
on_text("syntax", "A", "increments", whole(lambda t: t.replace("G90", "G91")))
on_text("syntax", "A", "G18", first_contact(at("G17", "G17", "G18", cut=WALL), "^G3 ", WALL))
on_text(
    "syntax",
    "B",
    "inverse time feed",
    first_contact(at("G94", "G94", "G93", cut=TRENCH), r"^G1 X", TRENCH),
)
on_text("syntax", "A", "a comma for a point", at(r"^G1 X", r"\.", ",", cut=WALL))
on_text("syntax", "B", "a bracket lost", at(r"^\(CUT", r"\)", "", cut=WALL))

on_text(
    "uncut",
    "A",
    "M30 before the wall",
    whole(lambda t: spoil.inserted(t, spoil.nth(t, r"^\(CUT", cut=WALL), "M30")),
)
on_text("syntax", "B", "cut off in the middle", whole(lambda t: t[: len(t) * 2 // 3]))
on_text("length-offset", "A", "G49 in mid-cut", inserting("G49", "^G2 ", cut=WALL, number=1))
on_text(
    "syntax",
    "A",
    "air on a line that a switch leaves out",
    at("^M7", "M7", "/M7", cut=WALL),
)

# --- cutters and lengths -------------------------------------------------------------------------
on_text(
    "length-offset",
    "A",
    "G43 dropped",
    first_contact(without(r"^G43", cut=TRENCH), r"^G0 Z5\.", TRENCH),
)
on_text(
    "length-offset",
    "B",
    "H1 for H2",
    first_contact(at(r"^G43", "H2", "H1", cut=WALL), r"^G0 Z8", WALL),
)
on_text("unknown-cutter", "A", "T9", at(r"^T2", "T2", "T9", cut=WALL))
on_text(
    "gouge",
    "A",
    "T2 for T1, H2 for H1, which is 0.4 thicker",
    whole(lambda t: spoil.everywhere(t, r"\b([TH])1\b", r"\g<1>2", cut=BORES)),
    of="thick finish",
)
on_text(
    "uncut",
    "B",
    "T1 for T2, H1 for H2, which is 0.4 thinner",
    whole(lambda t: spoil.everywhere(t, r"\b([TH])2\b", r"\g<1>1", cut=WALL)),
    of="thick finish",
)
on_order("uncut", "B", "cutter worn by 0.05", lambda o: with_cutter(o, 2, diameter=2.95, neck=2.8))
on_order("gouge", "B", "cutter 0.05 thicker", lambda o: with_cutter(o, 2, diameter=3.05))
on_order("reach", "B", "stub cutter", lambda o: with_cutter(o, 2, flute_length=1.5, reach=1.5))
on_order(
    "reach", "A", "stub cutter in bores", lambda o: with_cutter(o, 1, flute_length=2.0, reach=2.0)
)
on_order(
    "shank-contact",
    "B",
    "holder low",
    lambda o: with_cutter(o, 2, stickout=2.4, reach=2.4, flute_length=2.4),
)
on_order(
    "parting-ridge",
    "B",
    "corners of 0.3 at an overlap of 0.3",
    lambda o: with_cutter(with_cutter(o, 1, corner=0.3), 2, corner=0.3),
)
on_order(
    "life",
    "B",
    "life of 10 minutes",
    lambda o: replace(o, cutting=tuple(replace(c, life=10.0) for c in o.cutting)),
)

# --- spindle, air, feed --------------------------------------------------------------------------
on_text(
    "spindle", "A", "M3 dropped", first_contact(at("M3", " M3", "", cut=TRENCH), r"^G1 X", TRENCH)
)
on_text("spindle", "B", "M4", first_contact(at("M3", "M3", "M4", cut=TRENCH), r"^G1 X", TRENCH))
on_text("spindle", "A", "M5 in mid-cut", inserting("M5", r"^G2 ", cut=WALL, number=1))
on_text("spindle", "B", "S70000", whole(lambda t: t.replace("S7000", "S70000")))
on_text("spindle", "A", "dwell dropped", first_contact(without("^G4 ", cut=SLOTS), r"^G1 X", SLOTS))
on_text("coolant", "B", "M7 dropped", first_contact(without("^M7", cut=TRENCH), r"^G1 X", TRENCH))
on_text("coolant", "A", "M9 in mid-cut", inserting("M9", r"^G2 ", cut=WALL, number=1))
on_text(
    "coolant",
    "A",
    "flood on hot carbide",
    first_contact(at("^M7", "M7", "M7\nM8", cut=TRENCH), r"^G1 X", TRENCH),
)
on_text("feed", "A", "F9000", at(r"F300", "F300.0", "F9000.0", cut=TRENCH))
on_text("feed", "B", "F1800 on the wall", at(r"^G1 Y.*F180", "F180.0", "F1800.0", cut=WALL))
on_text(
    "restart",
    "B",
    "no feed in a cut at all",
    opening(whole(lambda t: spoil.everywhere(t, r" F[0-9.]+", "", cut=TRENCH)), TRENCH),
)
on_text(
    "rapid-contact",
    "A",
    "rapid for feed on the wall",
    at(r"^G1 X", "G1", "G0", cut=WALL),
)
on_text("rapid-contact", "B", "rapid for a ramp", at(r"^G1 X.*Z", "G1", "G0", cut=TRENCH))
on_text("rapid-contact", "A", "rapid into the plate", at(r"^G0 Z0.5", "Z0.5", "Z-0.5", cut=TRENCH))

on_text("spindle", "A", "dwell in milliseconds", whole(lambda t: t.replace("G4 P3.0", "G4 P0.003")))
on_text(
    "restart",
    "B",
    "no spindle speed in a cut",
    opening(whole(lambda t: spoil.everywhere(t, "^S7000 ", "", cut=SLOTS)), SLOTS),
)
on_text(
    "spindle feed",
    "A",
    "S1400 for S7000: five times the chip",
    whole(lambda t: t.replace("S7000", "S1400")),
)
on_order(
    "coolant",
    "A",
    "air is M8 on this mill",
    lambda o: with_setup(o, mill=replace(o.setup.mill, coolant_code="M8")),
)
on_order(
    "spindle",
    "B",
    "a slower spindle",
    lambda o: with_setup(o, mill=replace(o.setup.mill, spindle_high=6000.0)),
)
on_order(
    "feed",
    "A",
    "a slower mill",
    lambda o: with_setup(o, mill=replace(o.setup.mill, feed_high=250.0)),
)
on_order(
    "first-move",
    "B",
    "things 8 high on the table",
    lambda o: with_setup(o, mill=replace(o.setup.mill, rapid_height=8.0)),
)


# --- stops and first moves -----------------------------------------------------------------------
def _left_on(word: str) -> Change:
    """The word that turns it off dropped where the trench ends and where the wall begins."""

    def change(text: str) -> str:
        text = spoil.dropped(text, spoil.nth(text, f"^{word}", cut=TRENCH, number=-1))
        return spoil.everywhere(text, f"{word}$", "", cut=WALL)

    return first_contact(whole(change), "^M0", WALL)


on_text("stop", "A", "M5 dropped", _left_on("M5"))
on_text("stop", "B", "M9 dropped", _left_on("M9"))
on_text(
    "stop",
    "A",
    "no dwell after the stop",
    first_contact(without("^G4 ", cut=WALL), "^G3 ", WALL),
)
on_text(
    "stop", "B", "no air after the stop", first_contact(without("^M7", cut=WALL), r"^G1 Z1\.", WALL)
)
on_text("stop", "A", "no M3 after the stop", first_contact(without("M3", cut=BORES), "^G3 ", BORES))
on_text(
    "stop",
    "B",
    "stop 2 above the plate",
    first_contact(at("^G1 Z13", "Z13.0000", "Z5.0000", cut=WALL), "^M0", WALL, number=2),
)
on_text(
    "stop",
    "A",
    "retract dropped",
    first_contact(without("^G0 Z", cut=SLOTS, number=-1), "^T1 M6", TRENCH),
)


def _sideways_first(text: str) -> tuple[str, int | None]:
    line = spoil.nth(text, r"^G1 Z", cut=TRENCH)
    return spoil.swapped(text, line, line + 1), line


on_text("first-move", "A", "XY before Z", _sideways_first)
on_text("first-move", "B", "Z down before XY", at("^G1 Z53", "Z53", "Z4", cut=TRENCH))
on_text("first-move", "A", "to rapid height only", at("^G1 Z50", "Z50", "Z5", cut=SLOTS))
on_text(
    "first-move",
    "A",
    "a rapid across 3 above the plate",
    inserting("G0 Z3.0\nG0 X0.0\nG0 Z5.0", "^M5", cut=SLOTS),
)
on_text(
    "stop",
    "B",
    "no stop to put the screws in",
    whole(lambda t: spoil.dropped(t, spoil.nth(t, "^M0", cut=TRENCH))),
    of="screwed",
)

# --- where hands work ----------------------------------------------------------------------------
MESSAGE, HALT, OPTIONAL = r"^\(MSG, ", "^M0", "^M1"


def _without_stop(words: str, cut: str) -> Change:
    """A message and the stop behind it dropped."""

    def change(text: str) -> str:
        line = spoil.nth(text, MESSAGE + words, cut=cut)
        return spoil.dropped(text, line, line + 1)

    return whole(change)


on_text(
    "stop",
    "A",
    "change 10 above the plate",
    first_contact(at("^G0 Z50", "Z50.0000", "Z10.0000", cut=TRENCH, number=-1), "^T2 M6", WALL),
)
on_text(
    "stop",
    "B",
    "change at the rapid height",
    first_contact(without("^G0 Z53", cut=TRENCH, number=-1), "^T2 M6", WALL),
)
on_text(
    "stop",
    "A",
    "the end at the rapid height",
    whole(lambda t: spoil.dropped(t, spoil.nth(t, "^G0 Z50", cut=WALL, number=-1))),
)
on_text(
    "stop",
    "B",
    "no stop before a change by hand",
    first_contact(_without_stop("FIT", WALL), "^T2 M6", WALL),
)
on_text(
    "stop",
    "A",
    "M1 for M0 before a change by hand",
    first_contact(at(HALT, "M0", "M1", cut=WALL), "^T2 M6", WALL),
)
on_text("stop", "A", "no block", first_contact(_without_stop("BLOCK ON", WALL), "^T2 M6", WALL))
on_text(
    "stop",
    "B",
    "a block behind a switch for a cutter that goes in",
    first_contact(at(HALT, "M0", "M1", cut=WALL, number=2), "^T2 M6", WALL),
)
on_text(
    "stop",
    "A",
    "the gap read behind a switch for a cutter that goes in",
    first_contact(at(HALT, "M0", "M1", cut=WALL, number=1), "^T2 M6", WALL),
)
on_text(
    "stop",
    "B",
    "no block where the cutter stays in",
    first_contact(_without_stop("BLOCK ON", TRENCH), "^T1 M6", TRENCH),
)
on_text(
    "stop",
    "A",
    "the gap not read before the cutter comes down",
    first_contact(_without_stop("READ Z", WALL), HALT, WALL, number=1),
)
on_text(
    "stop",
    "B",
    "the block still there when the spindle starts",
    first_contact(_without_stop("TAKE", WALL), HALT, WALL, number=2),
)
on_text(
    "stop",
    "A",
    "rapid down to the block",
    first_contact(at("^G1 Z10", "G1", "G0", cut=WALL), HALT, WALL, number=2),
)
on_text(
    "stop",
    "B",
    "away from the block sideways",
    first_contact(inserting("G0 X0.0", "^G0 Z53", cut=WALL), HALT, WALL, number=2),
)
on_text(
    "stop", "A", "a block of 9", first_contact(at("^G1 Z10", "Z10", "Z9", cut=WALL), "^T2 M6", WALL)
)
on_text(
    "stop",
    "B",
    "the block checked with no length in force",
    first_contact(
        whole(
            lambda t: spoil.inserted(
                spoil.everywhere(t, "^G43 H2", "G49", cut=WALL),
                spoil.nth(t, "^S7000 M3", cut=WALL),
                "G43 H2",
            )
        ),
        "^T2 M6",
        WALL,
    ),
)
on_text(
    "stop",
    "B",
    "changed beside the place for it",
    first_contact(at("^G0 X-40", "X-40", "X-30", cut=TRENCH), "^T2 M6", WALL),
    of="aside",
)
on_order(
    "stop",
    "A",
    "hands want 80 above the plate",
    lambda o: with_setup(o, mill=replace(o.setup.mill, change_height=80.0)),
)
on_order("stop", "A", "a block of 12", lambda o: with_setup(o, gap_height=12.0))
