"""Details gone wrong: jimping, tabs necked at the wall, edge breaks."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from knifecam.shop import Order
from tests.agreement.details import jimped, necked
from tests.sabotage import harness as spoil
from tests.sabotage.case import on_order, on_plan, on_text, whole
from tests.sabotage.made import round_about, with_cutter

NOTCHES, OPENED, NECKS = "JIMPING", "JIMPING OPENED", "NECKS OF THE TABS"

# --- jimping -------------------------------------------------------------------------------------
on_text(
    "uncut", "A", "jimping left out", whole(lambda t: spoil.without_cut(t, NOTCHES)), of="jimped"
)
on_text(
    "uncut", "B", "jimping not opened", whole(lambda t: spoil.without_cut(t, OPENED)), of="jimped"
)
on_text(
    "gouge",
    "A",
    "jimping 0.05 nearer to the blade",
    whole(lambda t: spoil.moved(t, "Y", -0.05, cut=NOTCHES)),
    of="jimped",
)
on_text(
    "uncut",
    "A",
    "jimping 0.05 farther from the blade",
    whole(lambda t: spoil.moved(t, "Y", 0.05, cut=NOTCHES)),
    of="jimped",
)
on_text(
    "gouge",
    "B",
    "jimping opened 0.05 beside",
    whole(lambda t: spoil.moved(t, "X", 0.05, cut=OPENED)),
    of="jimped",
)
on_order(
    "gouge",
    "A",
    "notch cutter 0.05 thicker than it was measured",
    lambda o: with_cutter(o, 3, diameter=2.05),
    of="jimped",
)
on_plan("gouge", "A", "notches 0.1 deeper than ordered", lambda _: jimped(depth=0.55), of="jimped")
on_plan("uncut", "A", "one notch too few", lambda o: _fewer(o), of="jimped")
on_plan("gouge", "A", "another pitch", lambda _: jimped(pitch=3.4), of="jimped")


def _fewer(order: Order) -> Order:
    (row,) = order.blade.jimping
    return replace(
        order, blade=replace(order.blade, jimping=(replace(row, centres=row.centres[1:]),))
    )


# --- necks ---------------------------------------------------------------------------------------
on_text("tab", "B", "necks left out", whole(lambda t: spoil.without_cut(t, NECKS)), of="necked")
on_text(
    "tab", "B", "necks 0.05 thinner", whole(lambda t: spoil.moved(t, "Z", -0.05, cut=NECKS)),
    of="necked",
)  # fmt: skip
on_text(
    "tab", "B", "necks 0.05 thicker", whole(lambda t: spoil.moved(t, "Z", 0.05, cut=NECKS)),
    of="necked",
)  # fmt: skip
on_text(
    "tab loose-part", "B", "necks cut through",
    whole(lambda t: spoil.moved(t, "Z", -0.25, cut=NECKS)), of="necked",
)  # fmt: skip
on_text(
    "gouge", "B", "necks 0.02 into the wall",
    whole(lambda t: spoil.moved(t, "X", 0.02, cut=NECKS)), of="necked",
)  # fmt: skip
on_order(
    "tab", "B", "a neck cutter of round corner, whose stub stands out",
    lambda o: with_cutter(o, 5, corner=0.3), of="necked",
)  # fmt: skip
on_plan("tab", "B", "necks thicker than ordered", lambda _: necked(neck=0.25), of="necked")


# --- edge breaks ---------------------------------------------------------------------------------
BREAKS, GROOVE = "EDGE BREAKS", "OUTLINE GROOVE"
on_text("uncut", "A", "breaks left out", whole(lambda t: spoil.without_cut(t, BREAKS)), of="broken")
on_text("uncut", "B", "breaks left out", whole(lambda t: spoil.without_cut(t, BREAKS)), of="broken")
on_text(
    "gouge", "A", "breaks 0.03 deeper", whole(lambda t: spoil.moved(t, "Z", -0.03, cut=BREAKS)),
    of="broken",
)  # fmt: skip
on_text(
    "uncut", "A", "breaks 0.05 higher", whole(lambda t: spoil.moved(t, "Z", 0.05, cut=BREAKS)),
    of="broken",
)  # fmt: skip
on_text(
    "gouge", "B", "breaks 0.05 beside", whole(lambda t: spoil.moved(t, "X", 0.05, cut=BREAKS)),
    of="broken",
)  # fmt: skip
on_text(
    "near-axis", "B", "no groove before the breaks",
    whole(lambda t: spoil.without_cut(spoil.without_cut(t, f"{GROOVE}'S WALL"), GROOVE)),
    of="broken",
)  # fmt: skip
on_text(
    "near-axis", "A", "breaks 0.3 deeper, into the trench's floor",
    whole(lambda t: spoil.moved(t, "Z", -0.3, cut=BREAKS)), of="broken",
)  # fmt: skip
on_order(
    "gouge", "A", "a chamfer mill of another angle than its order says",
    lambda o: with_cutter(o, 4, half_angle=math.radians(50)), of="broken",
)  # fmt: skip
on_plan("gouge", "A", "breaks 0.1 wider than ordered", lambda _: round_about(0.4), of="broken")
on_plan("uncut", "A", "breaks 0.1 narrower than ordered", lambda _: round_about(0.2), of="broken")


# --- the hand of travel --------------------------------------------------------------------------
def _turned(text: str, cut: str) -> str:
    """Return the text with the full circles of a cut turned the other way."""
    lines = spoil.rows(text)
    first, last = spoil.span(text, cut)
    for k in range(first, last):
        before, row = (re.match(r"G\d (X\S+ Y\S+)", lines[n]) for n in (k - 1, k))
        if before and row and lines[k].startswith("G3") and before.group(1) == row.group(1):
            lines[k] = "G2" + lines[k][2:]
    return spoil.joined(lines)


on_text(
    "conventional",
    "A",
    "notches bored clockwise",
    whole(lambda t: _turned(t, NOTCHES)),
    of="jimped",
)
on_text(
    "conventional", "B", "notches bored clockwise", whole(lambda t: _turned(t, OPENED)), of="jimped"
)
for _side in "AB":
    on_text(
        "conventional", _side, "a bore's edge broken clockwise", whole(lambda t: _turned(t, BREAKS)),
        of="broken",
    )  # fmt: skip
    on_text(
        "conventional", _side, "a slot's edge broken clockwise",
        whole(lambda t: spoil.pass_travelled_back(t, BREAKS, 1)), of="broken",
    )  # fmt: skip
    on_text(
        "conventional", _side, "the outline's edge broken counter-clockwise",
        whole(lambda t: spoil.pass_travelled_back(t, BREAKS, -1)), of="broken",
    )  # fmt: skip
