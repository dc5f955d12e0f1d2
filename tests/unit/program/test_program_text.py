"""The text of programs, the flip's frames worked by hand, alignment and offsets."""

import re
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.curve import ARC, FEED, RAPID, Motions
from knifecam.errors import PlanError
from knifecam.planning import lay_out
from knifecam.planning.plan import cutters_needed
from knifecam.program import align_program, offsets_program, program_frame, write_program
from knifecam.program.hand_work import stop
from knifecam.program.program_head import comment_lines, comment_text
from knifecam.program.rs274_words import extent, motion_lines
from knifecam.program.zero_and_flip_fit import fit_lie
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Boring, Clamp, MeasuredBore, Registration
from knifecam.sweep.side_program import stored_of
from tests.agreement.orders import simple_order
from tests.sabotage.made import ORDERS


@pytest.fixture(scope="module")
def order():
    return simple_order()


@pytest.fixture(scope="module")
def plan(order):
    return lay_out(order)


@pytest.mark.parametrize(
    ("flip", "seen"),
    [
        # the bore at (-15, 4) of the part, datum (-55, -30); about X: (-15, -4), datum (-55, 30)
        ("X", (40.0, -34.0)),
        # about Y: (15, 4), datum (55, -30)
        ("Y", (-40.0, 34.0)),
    ],
)
def test_where_a_bore_lies_after_the_flip(order, flip, seen):
    turned = replace(order, setup=replace(order.setup, flip=flip))
    bores = (Bore(name="B1", centre=(-15.0, 4.0), diameter=5.0),)
    turned = replace(turned, blade=replace(turned.blade, bores=bores, slots=()))
    text = write_program(turned, lay_out(turned), "B").text
    start = re.search(r"\(CUT 1 .*?\nM7\n.*?\nG0 X(\S+) Y(\S+)", text, re.S)
    # the helix begins at the circle's +X end: radius (5.04 - 3) / 2
    assert float(start[1]) == pytest.approx(seen[0] + 1.02, abs=1e-4)
    assert float(start[2]) == pytest.approx(seen[1], abs=1e-4)


def test_z_zero_at_the_face_and_at_the_bed(order):
    a, b = program_frame(order, "A"), program_frame(order, "B")
    assert a.height(1.5) == 0.0  # A's face
    assert b.height(-1.5) == 0.0  # the fixture under side B
    assert b.height(1.5) == 3.0


def test_the_same_plan_gives_the_same_bytes(order, plan):
    for side in "AB":
        first = write_program(order, plan, side).text
        assert first == write_program(simple_order(), lay_out(simple_order()), side).text
        assert first.isascii()


def test_lines_are_short_plain_and_without_nested_comments(order, plan):
    for side in "AB":
        for line in write_program(order, plan, side).text.splitlines():
            assert len(line) < 80
            assert re.fullmatch(r"\([^()]*\)|[A-Z0-9 .\-]+", line), line
            assert not line.startswith("(MSG") or line.startswith("(MSG, "), line
        assert "G10" not in write_program(order, plan, side).text


def test_each_motion_knows_its_line(order, plan):
    program = write_program(order, plan, "A")
    lines = program.text.splitlines()
    motions = Motions.joined([c.motions for c in plan.side("A")])
    frame = program_frame(order, "A")
    for k in range(0, len(motions), 37):
        line = lines[program.line_of_motion[k] - 1]
        for letter, value in zip("XY", frame.of(motions.stop[k, :2])[0], strict=True):
            found = re.search(rf"{letter}(\S+)", line)
            if found:
                assert float(found[1]) == pytest.approx(value, abs=6e-5)


@pytest.mark.parametrize("by_hand", [True, False])
def test_a_fresh_cutter_goes_in_at_a_stop_on_every_mill(order, by_hand):
    mill = replace(order.setup.mill, change_by_hand=by_hand)
    short = tuple(replace(c, life=9.0) for c in order.cutting)
    worn = replace(order, cutting=short, setup=replace(order.setup, mill=mill))
    text = write_program(worn, lay_out(worn), "B").text
    fresh = re.findall(r"\(MSG, FIT A FRESH CUTTER 1, (.*), SET H1\)\n(.*)\nT1 M6", text)
    assert len(fresh) >= 2
    assert {halt for _, halt in fresh} == {"M0"}


def test_a_stop_says_which_of_how_many_cutters_goes_in(order):
    """Counted by hand through both programs: every change to a number fits the one that is due."""
    assert " OF " not in "".join(re.findall(r"FIT .*CUTTER.*", texts_of(order)))
    short = tuple(replace(c, life=9.0) for c in order.cutting)
    asked = re.findall(r"FIT (A FRESH )?CUTTER 1, NUMBER (\d+) OF (\d+)", texts_of(order, short))
    edge, seen = 1, []
    for new, which, many in asked:
        edge += bool(new)
        seen.append(edge)
        assert (int(which), int(many)) == (edge, 1 + sum(bool(one) for one, _, _ in asked))
    assert seen[0] == 1
    assert seen[-1] > 2


def texts_of(order, cutting=None):
    worn = replace(order, cutting=cutting or order.cutting)
    plan = lay_out(worn)
    return "".join(write_program(worn, plan, side).text for side in "AB")


@pytest.mark.parametrize(
    ("by_hand", "words"),
    # by hand the worn cutter is not called: a hand takes out whatever is in the spindle
    [(False, ["T1 M6", "M0", "T1 M6"]), (True, ["M0", "T1 M6", "M0"])],
)
def test_a_worn_cutter_is_called_only_where_the_mill_brings_it(order, by_hand, words):
    """Cutter 2 has just finished the fitted bore; its stop is not one for a fresh cutter 1."""
    bores = tuple(replace(b, fitted=True) for b in order.blade.bores)
    mill = replace(order.setup.mill, change_by_hand=by_hand)
    worn = replace(
        order,
        blade=replace(order.blade, bores=bores, slots=()),
        cutting=tuple(replace(c, life=2.8) for c in order.cutting),
        setup=replace(order.setup, mill=mill),
    )
    plan = lay_out(worn)
    cuts = [(cut.cutter, cut.fresh) for cut in plan.side("A")][:3]
    assert cuts == [(1, False), (2, False), (1, True)]
    third = write_program(worn, plan, "A").text.split("(CUT ")[3]
    found = [line for line in third.splitlines() if line == "M0" or line.endswith("M6")]
    assert found[:3] == words


CHECK = """\
T2 M6
G43 H2
G1 Z50.0000 F600.0
G0 X6.0000 Y6.0000
(MSG, READ Z: THE GAP UNDER CUTTER 2 MUST BE 50.00)
M0
G1 Z10.0000 F200.0
(MSG, BLOCK ON BARE PLATE AT X6.0 Y6.0: 10.00 MUST JUST PASS CUTTER 2)
M0
G0 Z50.0000
(MSG, TAKE THE BLOCK OF 10.00 AWAY)
M0
S7000 M3
G4 P3.0
M7
G0 Z5.0000
"""


def cut_with(text, name):
    """Return one cut's text."""
    return next(cut for cut in text.split("(CUT ") if name in cut)


def test_a_cutter_that_goes_in_proves_its_length_from_high_above(order, plan):
    wall = cut_with(write_program(order, plan, "A").text, "OUTLINE WALL")
    assert CHECK in wall
    assert wall.index("M0") < wall.index("T2 M6")


def test_where_the_cutter_stays_the_same_check_is_optional(order, plan):
    slots = cut_with(write_program(order, plan, "A").text, "SLOTS")
    assert "M0" not in slots
    assert slots.count("M1\n") == 4  # stays in, gap, block, block away
    assert "(MSG, CUTTER 1 STAYS IN, ITS LENGTH IN H1)\nM1\nT1 M6\n" in slots


def test_no_gap_stops_where_none_are_ordered_but_the_first_move_stays_high(order, plan):
    silent = replace(order, setup=replace(order.setup, gap_stop=False))
    text = write_program(silent, plan, "A").text
    assert "BLOCK" not in text
    assert text.count("\nG1 Z50.0000 F600.0\nG0 X") == len(plan.side("A"))


def test_hands_work_high_up_and_aside_where_a_place_is_ordered(order):
    mill = replace(
        order.setup.mill, change_height=60.0, change_place=((-40.0, -30.0), (-40.0, 30.0))
    )
    turned = replace(order, setup=replace(order.setup, mill=mill))
    text = write_program(turned, lay_out(turned), "A").text
    ends = re.findall(r"G0 Z60.0000\nM5\nM9\n(.*)\n(.*)\n", text)
    # bores, slots and trench share a cutter; before the wall and at the end a hand comes
    assert [first for first, _ in ends[-2:]] == ["G0 X-40.0000 Y-30.0000"] * 2
    assert all(first.startswith("(CUT") for first, _ in ends[:-2])


def test_a_long_message_is_cut_short_and_stands_whole_above(order):
    lines = stop(("BORES " + ", ".join(f"B{k}" for k in range(30)), "AND MIND THE HEADS"))
    assert lines[-1] == "M0"
    assert lines[-2].startswith("(MSG, BORES B0, B1")
    assert all(len(line) < 80 for line in lines)
    assert "B29" in "".join(lines[:-2])


def test_inches_and_a_slow_mill_bound_the_feeds_of_the_check(order):
    mill = replace(order.setup.mill, feed_high=150.0, units="in")
    slow_mill = replace(order, setup=replace(order.setup, mill=mill))
    plan = lay_out(replace(slow_mill, cutting=tuple(replace(c, feed=150.0) for c in order.cutting)))
    text = write_program(slow_mill, plan, "A").text
    # 50 / 25.4 and 150 / 25.4 rounded down to hundredths
    assert "G1 Z1.96850 F5.90" in text
    assert "THE GAP UNDER CUTTER 1 MUST BE 1.969" in text


def heads(order, side):
    text = write_program(order, lay_out(order), side).text
    return text[: text.index("\nG21")]


def test_the_head_says_how_high_clamps_may_stand_and_how_to_run_in_air(order):
    head = heads(order, "A")
    assert "(KEEP CLAMPS UNDER 5.0 ABOVE THE PLATE AND OUT OF ALL CUTS)" in head
    # the bore's skin of 0.25 leaves 2.75 mm of depth; with 5 mm to spare, in steps of 5: 10
    assert "(TO RUN IN AIR: RAISE Z0 OF G54 BY 10.0, RUN, LOWER IT AGAIN)" in head
    clamp = Clamp(side="A", x_low=-90, y_low=0, x_high=-80, y_high=8, height=8.0)
    known = replace(order, setup=replace(order.setup, clamps=(clamp,)))
    assert "NO CLAMPS" not in heads(known, "A")
    assert "NO CLAMPS" in heads(known, "B")


@pytest.mark.parametrize(
    ("flip", "datum", "a", "b"),
    [
        # lower left: about X the lower edge comes up, about Y the left one goes right
        ("X", (-55.0, -30.0), ("LEFT", "LOWER"), ("LEFT", "UPPER")),
        ("Y", (-55.0, -30.0), ("LEFT", "LOWER"), ("RIGHT", "LOWER")),
        ("Y", (55.0, 30.0), ("RIGHT", "UPPER"), ("LEFT", "UPPER")),
    ],
)
def test_the_same_two_edges_are_named_on_both_sides(order, flip, datum, a, b):
    turned = replace(order, setup=replace(order.setup, flip=flip, datum=(datum, datum)))
    head = heads(turned, "A")
    assert f"TOUCH OFF THE {a[0]} PLATE EDGE AT X 0.00" in head
    assert f"TOUCH OFF THE {a[1]} PLATE EDGE AT Y 0.00" in head
    head = heads(turned, "B")
    for edge, now, where in zip(a, b, ("X 0.00", "Y 0.00"), strict=True):
        assert f"(TOUCH OFF THE {now} PLATE EDGE AT {where}: IT WAS SIDE A'S {edge} ONE)" in head


def test_the_head_of_side_b_names_the_dowels_where_they_stand():
    head = heads(ORDERS["pins"](), "B")  # (-60, 4) and (60, 4), turned about X
    assert "(DOWEL FOR P1, 6.000, AT X -60.00 Y -4.00)" in head
    assert "(DOWEL FOR P2, 5.000, AT X 60.00 Y -4.00)" in head


def test_heads_tell_how_many_cutters_are_needed(order):
    worn = replace(order, cutting=tuple(replace(c, life=9.0) for c in order.cutting))
    plan = lay_out(worn)
    for side in "AB":
        cuts = [cut for cut in plan.side(side) if cut.cutter == 1]
        fitted = sum(cut.fresh for cut in cuts) + (not cuts[0].fresh)
        assert f"MIN OF CUTTING, {fitted} NEEDED" in heads(worn, side)
    # nine minutes last 8.55 as planned: so many cutters at least
    whole = sum(cut.minutes for cut in plan.cuts if cut.cutter == 1)
    assert cutters_needed(plan, 1) >= whole / (9.0 * 0.95)
    assert cutters_needed(lay_out(order), 1) == 1


def test_phrases_are_wrapped_evenly():
    rows = comment_lines(
        "ZERO G54: Z0 IS THE PLATE'S UPPER FACE, ONE REFERENCE FOR ALL CUTTER LENGTHS HERE"
    )
    assert len(rows) == 2
    assert min(map(len, rows)) > 30


def test_side_b_lies_on_the_negative_side_and_says_so(order, plan):
    head = write_program(order, plan, "B").text[:2000]
    assert "PLATE AT X 0.00 TO 110.00, Y -60.00 TO 0.00" in head
    assert "TURNED OVER ABOUT X" in head


def test_measured_bores_carry_side_b_to_where_the_plate_lies(order):
    """A plate shifted by (0.3, -0.2) and turned by 2 mrad, measured exactly: no residual."""
    bores = (
        Bore(name="P1", centre=(-47.0, 5.0), diameter=6.0),
        Bore(name="P2", centre=(47.0, -5.0), diameter=5.0),
    )
    nominal = {"P1": (8.0, -35.0), "P2": (102.0, -25.0)}  # (x + 55, -y - 30)
    c, s = np.cos(0.002), np.sin(0.002)
    measured = tuple(
        MeasuredBore(bore=name, x=c * x - s * y + 0.3, y=s * x + c * y - 0.2)
        for name, (x, y) in nominal.items()
    )
    registration = Registration(kind="bores", bores=bores, measured=measured)
    turned = replace(order, setup=replace(order.setup, registration=registration))
    frame = program_frame(turned, "B")
    assert frame.lie.angle == pytest.approx(0.002, abs=1e-12)
    assert (frame.lie.x, frame.lie.y) == pytest.approx((0.3, -0.2), abs=1e-12)
    wrong = replace(
        registration, measured=(replace(measured[0], x=measured[0].x + 0.1), *measured[1:])
    )
    off = replace(order, setup=replace(order.setup, registration=wrong))
    with pytest.raises(PlanError, match="measure again"):
        fit_lie(off, replace(program_frame(order, "B")))


def chain(kinds, places, centres=None, turns=None):
    count = len(kinds)
    places = np.array(places, float)
    return Motions(
        kind=np.array(kinds), start=places[:-1], stop=places[1:],
        centre=np.zeros((count, 2)) if centres is None else np.array(centres, float),
        turns=np.zeros(count) if turns is None else np.array(turns, float),
        feed=np.where(np.array(kinds) == RAPID, 0.0, 200.7),
    )  # fmt: skip


def test_motions_become_the_fewest_words():
    m = chain(
        [RAPID, RAPID, FEED, FEED, ARC],
        [(0, 0, 5), (1, 2, 5), (1, 2, 0.5), (1, 2, 0.5), (3, 2, 0.5), (3, 4, 0.25)],
        centres=[(0, 0)] * 4 + [(3, 3)],
        turns=[0, 0, 0, 0, 0.5],
    )
    assert [line for line, _ in motion_lines(m)] == [
        "G0 Z5.0000",
        "G0 X1.0000 Y2.0000",
        "G0 Z0.5000",
        "G1 X3.0000 F200.0",
        "G3 X3.0000 Y4.0000 Z0.2500 I0.0000 J1.0000",
    ]


def test_a_full_circle_names_its_axes_and_a_flat_arc_is_a_line():
    m = chain(
        [RAPID, ARC, ARC],
        [(1, 0, 5), (1, 0, 5), (1, 0, 5), (1.01, 0.0, 5)],
        centres=[(0, 0), (0, 0), (1.005, -1000.0)],
        turns=[0, -1.0, -1.6e-6],
    )
    lines = [line for line, _ in motion_lines(m)]
    assert lines[2] == "G2 X1.0000 Y0.0000 I-1.0000 J0.0000 F200.0"
    assert lines[3] == "G1 X1.0100"


def test_an_arc_that_would_close_is_refused():
    m = chain(
        [RAPID, ARC],
        [(1, 0, 5), (1, 0, 5), (1.0, 0.0015, 5)],
        centres=[(0, 0), (1.0005, 0.00075)],
        turns=[0, 0.55],
    )
    with pytest.raises(PlanError, match="would be read as a full circle"):
        list(motion_lines(m))


# --- the alignment program -----------------------------------------------------------------------
def visited(order):
    """Return where the alignment program stops low: (x, y, z, message), as the reader reads it."""
    text = align_program(order, lay_out(order))
    trace = read_program(text, stored_of(order.setup))
    lines = text.splitlines()
    stops = [act for act in trace.acts if act.kind == "stop" and act.before]
    low = []
    for act in stops:
        x, y, z = trace.motions.stop[act.before - 1]
        upper = trace.motions.start[act.before - 1, 2]
        if z < upper:  # it came down: by feed, straight, from the change height, and goes up again
            assert trace.motions.kind[act.before - 1] == FEED
            assert trace.motions.feed[act.before - 1] <= 200.0
            assert tuple(trace.motions.start[act.before - 1, :2]) == (x, y)
            assert tuple(trace.motions.stop[act.before]) == (x, y, upper)
            low.append((float(x), float(y), float(z), lines[act.line - 2]))
    assert not trace.spindle.any()
    across = np.hypot(*(trace.motions.stop - trace.motions.start)[:, :2].T) > 0
    face = order.blade.thickness  # Z0 is the fixture
    assert (trace.motions.stop[across, 2] >= face + order.setup.mill.change_height).all()
    return low


def test_alignment_under_a_skin_looks_at_edges_and_the_mark_and_says_why(order):
    """Plate 110 x 60, datum its lower left corner, about X: X 0 to 110, Y -60 to 0; pin of 6."""
    found = visited(order)
    assert [(x, y, z) for x, y, z, _ in found] == [
        (16.5, 3.0, 4.0), (93.5, 3.0, 4.0), (-3.0, -30.0, 4.0), (-3.0, 3.0, 4.0)
    ]  # fmt: skip
    assert "SIDE A'S LOWER PLATE EDGE TOUCHES THE PIN" in found[0][3]
    assert "SIDE A'S LEFT PLATE EDGE TOUCHES THE PIN" in found[2][3]
    assert "MARK" in found[3][3]
    text = align_program(order, lay_out(order))
    assert "NO BORE CAN BE SEEN ON THIS SIDE" in text
    assert "IS BORE" not in text
    closing = write_program(order, lay_out(order), "A").text
    assert "(MARK THE PLATE EDGE AT THE LEFT LOWER CORNER, X 0.00 Y 0.00, FOR SIDE B)" in closing


def test_alignment_visits_bores_that_go_through(order):
    through = replace(
        order, boring=Boring(opening="relieved"), setup=replace(order.setup, fixture_allowance=0.6)
    )
    found = visited(through)
    assert found[0][:3] == (40.0, -30.0, 4.0)  # the bore at (-15, 0)
    assert "IS BORE B1, 5.000, STRAIGHT UNDER THE PIN" in found[0][3]
    assert len(found) == 2
    assert "NO BORE CAN BE SEEN" not in align_program(through, lay_out(through))
    blind = tuple(replace(b, depth=2.0) for b in order.blade.bores)
    hidden = replace(through, blade=replace(order.blade, bores=blind))
    assert not any("IS BORE" in words for *_, words in visited(hidden))


def test_alignment_looks_at_bare_dowels_before_the_plate_lies_there():
    order = ORDERS["pins"]()
    found = visited(order)
    assert [(x, y) for x, y, *_ in found[:2]] == [(-60.0, -4.0), (60.0, -4.0)]
    text = align_program(order, lay_out(order))
    assert text.index("LEAVE THE PLATE OFF") < text.index("IS THE DOWEL FOR P1")
    assert text.index("IS THE DOWEL FOR P2") < text.index("LAY THE PLATE ON ITS DOWELS")
    assert text.index("LAY THE PLATE") < text.index("NEARLY TOUCHES THE PIN")


def test_alignment_leaves_out_places_where_a_clamp_stands(order):
    clamp = Clamp(side="B", x_low=10.0, y_low=-5.0, x_high=20.0, y_high=10.0, height=8.0)
    found = visited(replace(order, setup=replace(order.setup, clamps=(clamp,))))
    assert found[0][:2] == (33.0, 3.0)  # three tenths of the edge, not 0.15


def test_alignment_follows_the_plate_as_it_lies():
    """The measured order's plate lies 0.2 degrees askew at (0.15, -0.08)."""
    (x, y, *_), *_ = visited(ORDERS["measured"]())
    turn = np.radians(0.2)
    nominal = np.array([-60.0, -4.0])
    c, s = np.cos(turn), np.sin(turn)
    expected = np.array([[c, -s], [s, c]]) @ nominal + (0.15, -0.08)
    assert (x, y) == pytest.approx(tuple(expected), abs=2e-3)  # measured to 0.001


def test_work_offsets_stand_in_a_program_of_their_own(order):
    assert offsets_program(order) is None
    mill = replace(order.setup.mill, machine_zero=((10.0, 20.0, -30.0), (10.0, 80.0, -33.0)))
    text = offsets_program(replace(order, setup=replace(order.setup, mill=mill)))
    assert "G10 L2 P1 X10.0000 Y20.0000 Z-30.0000" in text
    assert "G10 L2 P2 X10.0000 Y80.0000 Z-33.0000" in text
    said = re.sub(r"[()\s]+", " ", text)
    assert "THIS OVERWRITES G54 AND G55 IN THE MILL'S MEMORY: NOTE DOWN THE OLD" in said
    assert "FIRST MOVES IN SINGLE BLOCK" in said


@pytest.mark.parametrize("aligns", [True, False])
def test_programs_beside_the_cutting_ones_carry_a_caution(order, plan, aligns):
    mill = replace(order.setup.mill, machine_zero=((10.0, 20.0, -30.0), (10.0, 80.0, -33.0)))
    known = replace(order, setup=replace(order.setup, mill=mill))
    text = align_program(known, plan) if aligns else offsets_program(known)
    said = re.sub(r"[()\s]+", " ", text)
    assert "MACHINE MAKER'S INSTRUCTIONS AND LOCAL RULES COME FIRST" in said


def test_extents_are_exact_on_arcs():
    """A helix of radius 2 about (10, 5) from its +X end, 0.6 of a turn: up to Y 7, down to X 8."""
    angle = 2 * np.pi * 0.6
    stop = [10 + 2 * np.cos(angle), 5 + 2 * np.sin(angle), -1.0]
    arc = Motions(
        np.array([ARC], np.uint8), np.array([[12.0, 5.0, 0.0]]), np.array([stop]),
        np.array([[10.0, 5.0]]), np.array([0.6]), np.array([100.0]),
    )  # fmt: skip
    low, high = extent(arc)
    assert low == pytest.approx([8.0, stop[1]])
    assert high == pytest.approx([12.0, 7.0])


def test_filling_stops_side_a_last_and_side_b_first():
    order = simple_order()
    plan = lay_out(order)
    a, b = (write_program(order, plan, side).text.split("\n") for side in "AB")
    assert a[-4:] == ["(MSG, FILL THE GROOVES, SCRAPE FLUSH)", "M0", "M2", ""]
    asked = b.index("(MSG, IS ALL THAT SIDE A OPENED FILLED, AND SCRAPED FLUSH?)")
    assert b[asked + 1] == "M0"
    assert not any(line.startswith(("G0", "G1")) for line in b[:asked])
    bare = replace(order, setup=replace(order.setup, support="none"))
    assert "SCRAPE" not in "".join(write_program(bare, plan, s).text for s in "AB")


def test_a_clamp_on_the_far_end_has_a_stop_before_the_blade_is_freed():
    order = simple_order()
    held = replace(order.setup.workholding, tip_clamp=True)
    order = replace(order, setup=replace(order.setup, workholding=held))
    cuts = lay_out(order).side("B")
    stops = [k for k, cut in enumerate(cuts) if "CLAMP THE FAR END OF THE BLADE NOW" in cut.stop]
    assert [cuts[k].name.split(",")[0] for k in stops] == ["OUTLINE TRENCH"]
    assert stops[0] == min(k for k, c in enumerate(cuts) if c.name.startswith("OUTLINE"))


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("MSG", "(- MSG, SIDE A)"),
        ("msg , hello", "(- MSG , HELLO, SIDE A)"),
        ("MSGS", "(MSGS, SIDE A)"),
    ],
)
def test_a_name_never_becomes_an_active_message(name, row):
    """Active is a comment whose first printing characters are ``MSG,`` (NISTIR 6556, section 3.3)."""
    assert comment_lines(f"{name}, side A") == [row]


def test_no_row_of_a_long_text_becomes_a_message():
    for blanks in range(80):
        rows = comment_lines("a" * blanks + " MSG, the spindle is off" + " and so on" * 20)
        assert not any(re.match(r"\(\s*M\s*S\s*G\s*,", row) for row in rows)


def test_an_order_named_as_a_message_shows_none(order):
    text = write_program(replace(order, name="MSG"), lay_out(order), "A").text
    assert text.startswith("(- MSG, SIDE A)\n")


def test_text_for_a_comment_steers_nothing():
    assert comment_text("a\nM3 (b)\x1b\u202e") == "A?M3 [B]??"
