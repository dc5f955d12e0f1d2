"""Every kind of finding: the hand-written program made wrong on purpose must be refused for it.

The good program is `tests/unit/judge/hand_written.py`; each case changes its text or its order in
one way.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from knifecam.blade import Bore
from knifecam.judge.findings import Finding, Verdict
from knifecam.judge.prove import judge
from knifecam.shop import Clamp, MeasuredBore, Mill, Order, Registration, Workholding
from tests.unit.judge import hand_written as hand

Texts = tuple[str | None, str | None]


@cache
def good() -> tuple[str, str]:
    return hand.side_a(), hand.side_b()


def judged(order: Order, texts: Texts) -> Verdict:
    return judge(order, texts).verdict


def kinds(verdict: Verdict) -> set[str]:
    return {finding.kind for finding in verdict.findings}


def of(verdict: Verdict, kind: str, side: str) -> Finding:
    found = [f for f in verdict.findings if (f.kind, f.side) == (kind, side)]
    assert found, f"{kind} on side {side} not among {[(f.kind, f.side) for f in verdict.findings]}"
    return found[0]


def swapped(text: str, old: str, new: str, count: int = -1) -> str:
    assert old in text, old
    return text.replace(old, new, count)


def cut(text: str, number: int) -> tuple[str, str, str]:
    """Return what stands before a cut, the cut, and what follows it."""
    begin = text.index(f"(CUT {number} ")
    end = text.find(f"(CUT {number + 1} ")
    end = text.index("M2\n") if end < 0 else end
    return text[:begin], text[begin:end], text[end:]


def without_cut(text: str, number: int) -> str:
    before, _, after = cut(text, number)
    return before + after


def moved(text: str, axis: str, by: float) -> str:
    """Return the text with one axis' words shifted."""
    return re.sub(rf"{axis}(-?[0-9.]+)", lambda m: f"{axis}{float(m[1]) + by:.4f}", text)


def mirrored(text: str, about: float) -> str:
    """Return the text travelled the other way round, by mirroring X about a line."""
    text = re.sub(r"X(-?[0-9.]+)", lambda m: f"X{2 * about - float(m[1]):.4f}", text)
    text = re.sub(r"I(-?[0-9.]+)", lambda m: f"I{-float(m[1]):.4f}", text)
    return text.replace("G2 ", "G9 ").replace("G3 ", "G2 ").replace("G9 ", "G3 ")


def lifts_dropped(text: str, places: tuple[float, ...]) -> str:
    """Return side B's text with no lift over the tabs at ``places``, X in the program frame."""
    lines, kept = text.splitlines(), []
    depth = None
    for line in lines:
        seen = re.match(r"G1 X(-?[0-9.]+) Y(-?[0-9.]+) Z(-?[0-9.]+)", line)
        if seen and any(abs(float(seen[1]) - place) < 8 for place in places) and depth is not None:
            line = line.replace(f"Z{seen[3]}", f"Z{depth}")
        elif seen:
            depth = seen[3]
        kept.append(line)
    return "\n".join(kept) + "\n"


def begun_early(text: str, early: float) -> str:
    """Return side B's text with the lift over its first tab begun so much sooner."""
    start = hand.EDGE + hand.TAB_PLACES[0] - hand.WAIST / 2 - hand.RADIUS

    def sooner(seen: re.Match[str]) -> str:
        x = float(seen[1])
        return f"G1 X{x - early:.4f} Y" if start - 3 < x < start - 0.05 else seen[0]

    return re.sub(r"G1 X(-?[0-9.]+) Y", sooner, text)


Made = tuple[Order, Texts]
SABOTAGES: list[tuple[str, str, str, Callable[[], Made]]] = []


def sabotage(kind: str, side: str, name: str) -> Callable[[Callable[[], Made]], Callable[[], Made]]:
    def keep(make: Callable[[], Made]) -> Callable[[], Made]:
        SABOTAGES.append((kind, side, name, make))
        return make

    return keep


def on_text(kind: str, side: str, name: str, change: Callable[[str], str]) -> None:
    """Add a sabotage that changes one side's text."""

    def make() -> Made:
        a, b = good()
        return hand.order(), ((change(a), b) if side == "A" else (a, change(b)))

    SABOTAGES.append((kind, side, name, make))


def on_order(kind: str, side: str, name: str, **changes: object) -> None:
    """Add a sabotage that changes the order."""
    SABOTAGES.append((kind, side, name, lambda: (hand.order(**changes), good())))


def with_cutter(**changes: float | str) -> dict[str, object]:
    return {"cutters": (replace(hand.order().cutters[0], **changes),)}


def in_middle(text: str, line: str, *, after: str = "G2 ", nth: int = 5) -> str:
    """Return the text with a line put behind the nth line that begins with ``after``."""
    lines = text.splitlines()
    rows = [k for k, row in enumerate(lines) if row.startswith(after)]
    lines.insert(rows[nth] + 1, line)
    return "\n".join(lines) + "\n"


# --- words ---------------------------------------------------------------------------------------
on_text("syntax", "A", "a word the language does not have", lambda t: in_middle(t, "G5 X1"))
on_text(
    "syntax",
    "B",
    "I and J swapped",
    lambda t: t.replace("I", "#").replace("J", "I").replace("#", "J"),
)
on_text("unknown-cutter", "A", "T7", lambda t: swapped(t, "T1 M6", "T7 M6"))
on_text("length-offset", "A", "H2", lambda t: swapped(t, "G43 H1", "G43 H2"))
on_text("length-offset", "B", "G43 dropped", lambda t: swapped(t, "G43 H1\n", ""))
on_text("work-offset", "B", "side A's offset", lambda t: swapped(t, "G55", "G54"))
on_text("stale-zero", "A", "G92", lambda t: in_middle(t, "G92 X0"))
on_text("stale-zero", "B", "G10", lambda t: swapped(t, "G92.1\n", "G92.1\nG10 L2 P2 X0 Y0 Z0\n"))
on_text("path-mode", "A", "G64", lambda t: swapped(t, "G61", "G64"))
on_text(
    "restart",
    "A",
    "a cut without its modal line",
    lambda t: (
        cut(t, 2)[0]
        + swapped(cut(t, 2)[1], "G21 G17 G90 G94 G40 G49 G80 G61 G54\n", "")
        + cut(t, 2)[2]
    ),
)
on_text(
    "restart",
    "B",
    "a cut without its spindle words",
    lambda t: (
        cut(t, 3)[0]
        + swapped(swapped(cut(t, 3)[1], "S8000 M3\n", ""), "G4 P3\n", "")
        + cut(t, 3)[2]
    ),
)

# --- probing -------------------------------------------------------------------------------------
on_text("probe", "A", "spindle on", lambda t: swapped(t, "M5\n", "G38.2 Z-2 F60\nM5\n", 1))
on_text("probe", "B", "no metal", lambda t: swapped(t, "M5\n", "M5\nG38.2 Z4 F60\n", 1))
on_text("probe", "A", "a cutter", lambda t: swapped(t, "M5\n", "M5\nG38.2 X60 F60\n", 1))

# --- spindle, air, feed --------------------------------------------------------------------------
on_text("spindle", "A", "M3 dropped", lambda t: swapped(t, "S8000 M3", "S8000"))
on_text("spindle", "B", "M4", lambda t: swapped(t, "M3", "M4"))
on_text("spindle", "A", "dwell dropped", lambda t: swapped(t, "G4 P3\n", ""))
on_text("spindle", "A", "too quick for the mill", lambda t: swapped(t, "S8000", "S30000"))
on_text("coolant", "A", "M7 dropped", lambda t: swapped(t, "M7\n", ""))
on_text("coolant", "B", "M8 on hot carbide", lambda t: swapped(t, "M7\n", "M7\nM8\n"))
on_text("feed", "A", "above the mill's", lambda t: swapped(t, "F300", "F9000", 1))
on_text("feed", "B", "thrice the cutter's", lambda t: swapped(t, "F300", "F900"))
on_order(
    "life",
    "B",
    "life of 8 minutes",
    cutting=tuple(replace(c, life=8.0) for c in hand.order().cutting),
)

# --- stops and first moves -----------------------------------------------------------------------
on_text(
    "first-move",
    "A",
    "XY before Z",
    lambda t: re.sub(r"(G43 H1\n)(G0 Z5.0000\n)(G0 X.*\n)", r"\1\3\2", t),
)
on_text(
    "first-move",
    "B",
    "Z down before XY",
    lambda t: re.sub(r"(G43 H1\n)G0 Z8.0000\n", r"\1G0 Z3.5000\n", t, count=1),
)
on_text("stop", "A", "low and turning", lambda t: in_middle(t, "M0"))
on_text("stop", "B", "M5 dropped", lambda t: swapped(t, "M5\n", ""))
on_text("stop", "B", "M9 dropped", lambda t: swapped(t, "M9\n", ""))
on_text(
    "stop",
    "A",
    "no dwell after it",
    lambda t: cut(t, 2)[0] + "M0\n" + swapped(cut(t, 2)[1], "G4 P3\n", "") + cut(t, 2)[2],
)
on_order("travel", "A", "short mill", mill=Mill(travel=(60.0, 250.0, 200.0)))
on_order(
    "travel",
    "B",
    "zero at the mill's end",
    mill=Mill(machine_zero=((10.0, 10.0, 100.0), (10.0, 10.0, 100.0))),
)

# --- entering ------------------------------------------------------------------------------------
on_text("rapid-contact", "A", "G0 for G1", lambda t: re.sub(r"G1 (X.*Z-0.2333) F\d+", r"G0 \1", t))
on_text(
    "rapid-contact",
    "B",
    "rapid down into the plate",
    lambda t: swapped(t, "G0 Z3.5000", "G0 Z2.7000"),
)
on_text(
    "steep-entry",
    "A",
    "plunge for a ramp",
    lambda t: (
        re.sub(
            r"(G1 X(\S+) Y(\S+) Z0.0000 F\d+\n)(G1 X\S+ Y\S+ Z-0.2333)",
            r"\1G1 Z-0.2333\n\4",
            cut(t, 2)[0] + cut(t, 2)[1],
        )
        + cut(t, 2)[2]
    ),
)
on_text("steep-entry", "B", "tab lift down at 90 degrees", lambda t: straight_down(t))


def straight_down(text: str) -> str:
    """Return side B's text with the descents from the tabs made upright, into uncut ground."""
    lines, out = text.splitlines(), []
    for k, line in enumerate(lines):
        if "F150" in line and k and "F300" in lines[k - 1] and "G1" in line:
            x, y, _ = re.findall(r"[XYZ](-?[0-9.]+)", lines[k - 1])
            z = re.search(r"Z(-?[0-9.]+)", line)
            assert z
            out.append(f"G1 X{x} Y{y} Z{z[1]} F150")
        out.append(line)
    return "\n".join(out) + "\n"


def without_level(text: str, word: str) -> str:
    """Return the text without the lines of one level."""
    return "\n".join(r for r in text.splitlines() if word not in r) + "\n"


on_text("slot-depth", "A", "a level skipped", lambda t: without_level(t, "Z-0.2333"))
on_text(
    "fixture-cut",
    "A",
    "bore 0.1 below the fixture",
    lambda t: swapped(t, "Z-2.7500 I", "Z-3.1000 I"),
)


@sabotage("both-walls", "A", "trench roughed too shallow")
def _() -> Made:
    a, b = good()
    return hand.order(), (swapped(a, "Z-0.6800", "Z-0.7500"), b)


@sabotage("conventional", "A", "finishing pass reversed")
def _() -> Made:
    a, b = good()
    before, wall, after = cut(a, 3)
    return hand.order(), (before + mirrored(wall, hand.EDGE + hand.LENGTH / 2) + after, b)


@sabotage("both-walls", "A", "trench roughed 0.34 narrower than the finishing cutter")
def _() -> Made:
    a, b = good()
    order = hand.order()
    small = replace(order.cutters[0], number=2, diameter=2.6, neck=2.5)
    stages = (*order.cutting, replace(order.cutting[1], cutter=2))
    kept = hand.RADIUS, hand.TRENCH
    hand.RADIUS, hand.TRENCH = 1.3, 1.3 + 1.3 + hand.STOCK
    try:
        _, rough, _ = cut(hand.side_a(), 2)
    finally:
        hand.RADIUS, hand.TRENCH = kept
    rough = rough.replace("T1 M6", "T2 M6").replace("G43 H1", "G43 H2")
    before, _, after = cut(a, 2)
    text = before + rough + after
    return replace(order, cutters=(*order.cutters, small), cutting=stages), (text, b)


@sabotage("conventional", "B", "finishing pass reversed")
def _() -> Made:
    a, b = good()
    before, wall, after = cut(b, 3)
    return hand.order(), (a, before + mirrored(wall, hand.EDGE + hand.LENGTH / 2) + after)


@sabotage("conventional", "A", "bore clockwise")
def _() -> Made:
    a, b = good()
    before, bore, after = cut(a, 1)
    return hand.order(), (before + bore.replace("G3 ", "G2 ") + after, b)


# --- the cutter above its flutes -----------------------------------------------------------------
on_order("reach", "B", "stub flutes", **with_cutter(flute_length=1.5))
on_order("reach", "A", "short neck", **with_cutter(reach=1.0, flute_length=1.0, shank=3.0))
on_order("shank-contact", "B", "thick shank low down", **with_cutter(reach=1.5, flute_length=1.5))
on_order("shank-contact", "B", "holder too low", **with_cutter(stickout=2.0))
on_order(
    "keep-out",
    "A",
    "a clamp in the way of the wall",
    clamps=(Clamp(side="A", x_low=0, y_low=0, x_high=14, y_high=20, height=12.0),),
)
on_order(
    "keep-out",
    "B",
    "a clamp below the holder",
    clamps=(Clamp(side="B", x_low=0, y_low=-48, x_high=5, y_high=-40, height=30.0),),
)
on_order(
    "border",
    "A",
    "a clamp 2 mm beside the trench",
    clamps=(Clamp(side="A", x_low=0, y_low=18, x_high=9, y_high=30, height=3.0),),
)


# --- what is left --------------------------------------------------------------------------------
on_text("gouge", "B", "wrong zero", lambda t: moved(t, "Y", 0.05))
on_text("mismatch", "B", "zero off by 3 um", lambda t: moved(t, "X", 0.003))
on_text("gouge", "A", "through the blade", lambda t: in_middle(t, "G1 X45 Y25 Z-0.5 F300"))
on_text("gouge", "A", "bore 0.05 larger", lambda t: bore_changed(t, 0.05))
on_text("uncut", "A", "bore 0.05 smaller", lambda t: bore_changed(t, -0.05))
on_text("uncut", "B", "bore not opened", lambda t: without_cut(t, 1))
on_text("uncut", "B", "wall not finished", lambda t: without_cut(t, 3))
on_text("tab", "A", "deeper by 0.05", lambda t: moved(t, "Z", -0.05))


def bore_changed(text: str, by: float) -> str:
    """Return side A's text with its bore's diameter changed."""
    before, bore, after = cut(text, 1)
    radius = hand.BORE / 2 - hand.RADIUS
    x = hand.EDGE + hand.BORE_AT[0]
    bore = bore.replace(f"X{x + radius:.4f}", f"X{x + radius + by / 2:.4f}")
    return before + bore.replace(f"I{-radius:.4f}", f"I{-radius - by / 2:.4f}") + after


@sabotage("parting-ridge", "B", "corner radius 0.3 at an overlap of 0.2")
def _() -> Made:
    return hand.order(**with_cutter(kind="bull-nose", corner=0.3)), good()


@sabotage("waist", "B", "window 0.3 too narrow")
def _() -> Made:
    order = hand.order()
    return replace(order, tabs=replace(order.tabs, waist=hand.WAIST + 0.3)), good()


@sabotage("waist", "B", "window 0.3 too wide")
def _() -> Made:
    order = hand.order()
    return replace(order, tabs=replace(order.tabs, waist=hand.WAIST - 0.3)), good()


@sabotage("tab", "B", "a tab's lifts dropped")
def _() -> Made:
    a, b = good()
    return hand.order(), (a, lifts_dropped(b, (hand.EDGE + hand.TAB_PLACES[0],)))


@sabotage("loose-part", "B", "every tab's lifts dropped")
def _() -> Made:
    a, b = good()
    return hand.order(), (a, lifts_dropped(b, tuple(hand.EDGE + x for x in hand.TAB_PLACES)))


@sabotage("waist", "B", "window no wider than the cutter")
def _() -> Made:
    kept, hand.WAIST = hand.WAIST, 0.0
    try:
        b = hand.side_b()
    finally:
        hand.WAIST = kept
    return hand.order(), (good()[0], b)


def large_bore() -> Order:
    order = hand.order()
    bores = (Bore(name="pin", centre=hand.BORE_AT, diameter=9.0),)
    return replace(order, blade=replace(order.blade, bores=bores))


@sabotage("loose-slug", "B", "a bore of three diameters not cleared inside")
def _() -> Made:
    kept, hand.BORE = hand.BORE, 9.0
    try:
        a, b = hand.side_a(), hand.side_b()
    finally:
        hand.BORE = kept
    centre = re.compile(r"G1 X27.0000 Y-?25.0000 .*\n")  # the way back to the middle clears it
    return large_bore(), (centre.sub("", a), centre.sub("", b))


@sabotage("loose-waste", "B", "a ring in the waste")
def _() -> Made:
    w = hand.Writer(face=hand.THICK)
    hand.begin_cut(w, "CUT 4 OF 4: RING, CUTTER 1, DOWN TO Z0.0000", "G55")
    hand.bore(w, (45.0, -44.5), 9.0, -hand.THICK)
    ring = "\n".join(line for line in w.lines if "G1 X45.0000" not in line)
    a, b = good()
    b = b.replace("M2\n", ring + "\nG0 Z8.0000\nM5\nM9\nM2\n")
    return hand.order(), (a, b)


on_order(
    "border", "A", "12 mm ordered where 11 stay", trench=replace(hand.order().trench, border=12.0)
)
on_order("unsupported", "B", "grooves not filled", support="none")


@sabotage("seating", "B", "equal pins")
def _() -> Made:
    bores = (
        Bore(name="one", centre=(-10.0, 10.0), diameter=5.0, depth=2.7),
        Bore(name="two", centre=(70.0, 10.0), diameter=5.0, depth=2.7),
    )
    return hand.order(registration=Registration(kind="pins", bores=bores)), good()


@sabotage("seating", "B", "a measured bore that does not fit the others")
def _() -> Made:
    bores = tuple(
        Bore(name=name, centre=at, diameter=5.0)
        for name, at in (("one", (-10.0, 10.0)), ("two", (70.0, 10.0)))
    )
    measured = (MeasuredBore(bore="one", x=5.0, y=-25.0), MeasuredBore(bore="two", x=85.4, y=-25.0))
    registration = Registration(kind="bores", bores=bores, measured=measured)
    return hand.order(registration=registration), good()


@sabotage("seating", "B", "a screw without a bore")
def _() -> Made:
    return hand.order(workholding=Workholding(kind="bores", screws=("lanyard",))), good()


@sabotage("keep-out", "B", "a screw head in the way")
def _() -> Made:
    hold = Workholding(kind="bores", screws=("pin",), head_diameter=30.0)
    return hand.order(workholding=hold), good()


@sabotage("side-thickness", "B", "tabs of 0.22 mm")
def _() -> Made:
    kept, hand.TAB = hand.TAB, 0.22
    try:
        return hand.order(), (hand.side_a(), hand.side_b())
    finally:
        hand.TAB = kept


@sabotage("side-thickness", "A", "a plate 0.1 mm thinner than the blade")
def _() -> Made:
    order = hand.order()
    plate = replace(order.setup.plate, thickness=hand.THICK - 0.1)
    return replace(order, setup=replace(order.setup, plate=plate)), good()


@sabotage("side-thickness", "B", "hardly any overlap")
def _() -> Made:
    kept = hand.OVERLAP, hand.CLEAR
    hand.OVERLAP, hand.CLEAR = 0.03, 0.01
    try:
        return hand.order(), (hand.side_a(), hand.side_b())
    finally:
        hand.OVERLAP, hand.CLEAR = kept


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("G38.2 Z-2 F60\nM5\n", "while it turns"),
        ("M5\nG38.2 Z4 F60\n", "meets no metal"),
        ("M5\nG38.2 Z-2 F60\n", "the order has no probe"),
    ],
)
def test_every_probe_is_told_with_its_reason(lines: str, message: str) -> None:
    """After side A's second cut the cutter stands over the groove's edge, 5 mm above the face."""
    a, b = good()
    before, middle, after = cut(a, 2)
    verdict = judged(hand.order(), (before + swapped(middle, "M5\n", lines) + after, b))
    finding = of(verdict, "probe", "A")
    assert message in finding.message
    assert "own" in finding.remedy


def test_the_good_program_has_no_finding() -> None:
    verdict = judged(hand.order(), good())
    assert verdict.findings == ()


def test_the_good_program_turned_about_y_has_no_finding() -> None:
    order = hand.order(flip="Y")
    verdict = judged(order, (good()[0], hand.side_b("Y")))
    assert verdict.findings == ()


@pytest.mark.parametrize(
    ("kind", "side", "make"),
    [pytest.param(k, s, m, id=f"{k}: {n}") for k, s, n, m in SABOTAGES],
)
def test_sabotage_is_refused_for_its_own_reason(
    kind: str, side: str, make: Callable[[], Made]
) -> None:
    order, texts = make()
    verdict = judged(order, texts)
    finding = of(verdict, kind, side)
    assert finding.remedy
    assert finding.message == finding.message.strip()
    assert not finding.message.endswith(".")


on_text(
    "clearance", "A", "a rapid down to 1 um", lambda t: swapped(t, "G0 Z0.5000", "G0 Z0.0010", 1)
)
on_text("dwell-in-metal", "A", "a dwell in a pass", lambda t: in_middle(t, "G4 P1"))
on_text("tab-section", "B", "lifts begun 3 mm too early", lambda t: begun_early(t, 3.0))


on_text(
    "stop-text",
    "A",
    "another cutter asked for",
    lambda t: swapped(t, "T1 M6", "(MSG, FIT CUTTER 2, SET H1)\nM0\nT1 M6", 1),
)


@sabotage("overhang", "B", "no tab beside a screw")
def _hangs_out() -> Made:
    order = hand.order(workholding=Workholding(kind="bores", screws=("pin",)))
    order = replace(order, tabs=replace(order.tabs, count=0, stations=()))
    return order, (
        good()[0],
        lifts_dropped(good()[1], tuple(hand.EDGE + x for x in hand.TAB_PLACES)),
    )


def test_a_mirrored_side_is_refused() -> None:
    """Side B written for the other flip axis, and side A sent to the mill twice."""
    a, b = good()
    assert {"uncut", "loose-part", "tab"} & kinds(judged(hand.order(flip="Y"), (a, b)))
    assert not judged(hand.order(), (a, a)).ok


def test_one_side_alone_is_judged_as_far_as_it_goes() -> None:
    a, b = good()
    alone = judged(hand.order(), (a, None))
    assert alone.findings == ()
    assert any("side B" in sentence for sentence in alone.not_judged)
    other = judged(hand.order(), (None, b))
    assert other.findings == ()
    assert math.isclose(alone.measures["sides"]["A"]["deepest"], 2.75, abs_tol=1e-9)
