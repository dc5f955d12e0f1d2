"""The text of programs, the flip's frames worked by hand, alignment and offsets."""

import re
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.curve import ARC, FEED, RAPID, Motions
from knifecam.errors import PlanError
from knifecam.planning import lay_out
from knifecam.program import align_program, offsets_program, program_frame, write_program
from knifecam.program.frame import fit_lie
from knifecam.program.motion import motion_lines
from knifecam.shop import Measured, Registration
from tests.agreement.orders import simple_order


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
    start = re.search(r"\(CUT 1 .*?G0 X(\S+) Y(\S+)", text, re.S)
    # the helix begins at the circle's +X end: radius (5.04 - 3) / 2
    assert float(start[1]) == pytest.approx(seen[0] + 1.02, abs=1e-4)
    assert float(start[2]) == pytest.approx(seen[1], abs=1e-4)


def test_z_zero_at_the_face_and_at_the_bed(order):
    a, b = program_frame(order, "A"), program_frame(order, "B")
    assert a.height(1.5) == 0.0  # A's face
    assert b.height(-1.5) == 0.0  # the bed under side B
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
    fresh = re.findall(r"\(FIT A FRESH CUTTER 1.*?\)\n(?:\(.*\)\n)*(.*)\nT1 M6", text)
    assert len(fresh) >= 2
    assert set(fresh) == {"M0"}


def test_a_worn_cutter_is_called_before_a_hand_takes_it_out(order):
    """Cutter 2 has just finished the fitted bore; its stop is not one for a fresh cutter 1."""
    bores = tuple(replace(b, fitted=True) for b in order.blade.bores)
    worn = replace(
        order,
        blade=replace(order.blade, bores=bores, slots=()),
        cutting=tuple(replace(c, life=2.8) for c in order.cutting),
    )
    plan = lay_out(worn)
    cuts = [(cut.cutter, cut.fresh) for cut in plan.side("A")][:3]
    assert cuts == [(1, False), (2, False), (1, True)]
    third = write_program(worn, plan, "A").text.split("(CUT ")[3]
    words = [line for line in third.splitlines() if line == "M0" or line.endswith("M6")]
    assert words[:3] == ["T1 M6", "M0", "T1 M6"]


def test_side_b_lies_on_the_negative_side_and_says_so(order, plan):
    head = write_program(order, plan, "B").text[:2000]
    assert "THE PLATE LIES IN X 0.00 TO 110.00, Y -60.00 TO 0.00" in head
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
        Measured(bore=name, x=c * x - s * y + 0.3, y=s * x + c * y - 0.2)
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


def test_alignment_stops_high_over_bores_with_the_spindle_still(order):
    text = align_program(order)
    assert "M3" not in text
    assert text.count("M0") == 2
    heights = [float(z) for z in re.findall(r"Z(\S+)", text)]
    assert min(heights) >= 3.0 + 5.0
    assert "G0 X40.0000 Y-30.0000" in text


def test_work_offsets_stand_in_a_program_of_their_own(order):
    assert offsets_program(order) is None
    mill = replace(order.setup.mill, machine_zero=((10.0, 20.0, -30.0), (10.0, 80.0, -33.0)))
    text = offsets_program(replace(order, setup=replace(order.setup, mill=mill)))
    assert "G10 L2 P1 X10.0000 Y20.0000 Z-30.0000" in text
    assert "G10 L2 P2 X10.0000 Y80.0000 Z-33.0000" in text
