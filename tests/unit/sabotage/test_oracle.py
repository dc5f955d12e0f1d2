"""The oracle at changes whose effect is worked out by hand, on the plain blade of 60 x 20 x 3 mm."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from knifecam.rs274.program_reader import read_program
from knifecam.shop.setup import Misplacement
from knifecam.sweep.side_program import stored_of
from tests.sabotage import harness as spoil
from tests.sabotage.changes.change_lines import early_lifts, half_dropped
from tests.sabotage.changes.change_stand import Stand
from tests.sabotage.changes.text import Text
from tests.sabotage.made import made
from tests.sabotage.oracle.closer import looked_closer
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR
from tests.sabotage.oracle.life import longest
from tests.sabotage.oracle.oracle import REFUSED, Classed, Oracle

WALL, TRENCH = "OUTLINE WALL", "OUTLINE TRENCH"


@cache
def oracle() -> Oracle:
    good = made("plain")
    a, b = good.texts
    assert a is not None
    assert b is not None
    return Oracle(good.order, (a, b))


def classed(a: str | None = None, b: str | None = None, **changes: object) -> Classed:
    good = oracle()
    texts = (a or good.texts[0], b or good.texts[1])
    return good.classed(replace(Stand(order=good.order, texts=texts), **changes))  # type: ignore[arg-type]


def told(found: Classed) -> dict[str, float]:
    return {effect.what: effect.amount for effect in found.effects}


def test_good_programs_are_harmless_and_leave_the_ordered_blade() -> None:
    assert classed() == Classed(grade=HARMLESS)
    field = oracle().good
    flats = field.sights.role == 4
    assert np.all(field.thickness[flats] == pytest.approx(3.0, abs=1e-9))
    solid, void = field.sights.role == 0, field.sights.role == 2
    # the skin in the bore and the slot is opened from side B, 0.02 mm a side wider
    outline = np.isfinite(field.sights.station)
    assert np.all(field.thickness[solid & outline] > 2.99)
    assert np.all(field.thickness[solid] > 2.45)
    assert 0 < np.count_nonzero(field.thickness[void] > 0.0) < 0.2 * np.count_nonzero(void)
    # the tabs are 0.4 mm thick as ordered, and 1.5 mm wide midway across the finished groove
    tab = field.sights.role == 9
    assert float(field.thickness[tab].max()) == pytest.approx(0.4, abs=0.001)


@pytest.mark.parametrize(
    ("by", "grade"), [(0.003, HARMLESS), (0.005, NEAR), (0.007, HARMFUL), (0.1, HARMFUL)]
)
def test_wall_moved_into_the_blade(by: float, grade: str) -> None:
    text = spoil.moved(oracle().texts[0], "X", by, cut=WALL)
    assert classed(a=text).grade == grade


def test_wall_cut_by_a_tenth_takes_the_blade_beside_it() -> None:
    """Side A's finished groove is 1.49 mm deep beside faces 1.5 above the middle."""
    found = told(classed(a=spoil.moved(oracle().texts[0], "Y", 0.1, cut=WALL)))
    assert found["blade beside a wall cut away"] > 0.5


def test_a_number_changed_in_air_is_harmless() -> None:
    text = oracle().texts[0]
    high = [k for k, row in enumerate(spoil.rows(text), 1) if row.startswith("G0 X")]
    assert classed(a=spoil.nudged(text, high[0], "X", 0.5)).grade == HARMLESS


@pytest.mark.parametrize(("by", "grade"), [(0.005, HARMLESS), (0.0105, NEAR), (0.05, HARMFUL)])
def test_tab_thinner_by_side_b_deeper(by: float, grade: str) -> None:
    text = spoil.everywhere(oracle().texts[1], "Z1.1500", f"Z{1.15 - by:.4f}")
    found = classed(b=text)
    assert found.grade == grade
    if grade == HARMFUL:
        assert told(found)["a tab of another thickness"] == pytest.approx(by, abs=0.001)


def test_words_that_hurt() -> None:
    text = oracle().texts[0]
    for change, what in (
        (spoil.everywhere(text, " M3", " M4", cut=TRENCH), "metal met with the spindle backward"),
        (spoil.everywhere(text, " M3", "", cut=TRENCH), "metal met with the spindle off"),
        (spoil.everywhere(text, "^M7", "M9", cut=TRENCH), "metal met without air"),
        (
            spoil.everywhere(text, "^G43 H1", "G43 H2", cut=TRENCH),
            "low with another length, or none",
        ),
        (spoil.everywhere(text, "G61", "G64", cut=WALL), "metal met with corners rounded"),
    ):
        found = classed(a=change)
        assert found.grade == HARMFUL
        assert what in told(found)


def test_conventional_travel_is_seen() -> None:
    back, _ = spoil.travelled_back(oracle().texts[0], WALL)
    found = told(classed(a=back))
    # the lap round the blade is 153 mm long, less where a lead has met the wall before
    assert found["a wall finished on the wrong hand"] == pytest.approx(153.1, abs=6.0)


def test_three_turns_less_into_a_skin() -> None:
    """From 3.1 one turn goes down to 2.84; it comes to the face at 3.0 after 0.1 / 0.26 of itself.

    So far round, the next turn, by 0.065 as ordered, meets the most under the cutter's middle: 3.0 less
    2.84 - 0.065 * 0.1 / 0.26, that is 0.185; over the cutter's whole width 0.16 at least.
    """
    text = oracle().texts[1]
    turns = spoil.matching(text, "^G3 .* Z", cut="BORES")
    found = classed(b=spoil.dropped(text, turns[0], turns[2]))
    assert found.grade == HARMFUL
    most = told(found)["more metal under the cutter than it takes"]
    assert 0.16 <= most <= 0.185
    assert told(found)["a cut wider and deeper"] == pytest.approx(0.185, abs=0.002)


def test_ground_cut_where_clamps_stand() -> None:
    """Out to X105 with a radius of 1.5: 3.5 mm stay of the frame's 8 beside a plate that ends at 110."""
    text = oracle().texts[0]
    line = spoil.nth(text, "^G1 Y24", cut=TRENCH)
    found = told(classed(a=spoil.inserted(text, line, "G1 X105.0\nG1 X87.4")))
    assert found["the plate's frame cut"] == pytest.approx(4.5, abs=0.9)


def test_an_edge_that_lives_too_short() -> None:
    """52 mm at 0.2 mm/min are 260 min with a cutter that lives 240."""
    text = oracle().texts[0]
    line = spoil.nth(text, r"^G1 X29\.", cut=TRENCH)
    slow = spoil.edited(text, line, "$", " F0.2")
    slow = spoil.edited(slow, line + 1, "$", " F300.0")
    before = longest(oracle().good.sides[0], 1)
    found = told(classed(a=slow))
    share = found["an edge is longer in metal than it lives"]
    assert share == pytest.approx((before + 52 / 0.2 - 52 / 300) / 240, abs=1e-3)


def test_a_closer_look_is_taken_round_what_has_changed() -> None:
    """The ramp of 10 mm is long; the turns of radius 1 round the bore's middle at (40, 30) are not."""
    one, text = oracle(), oracle().texts[0]
    turns = spoil.matching(text, "^G3 .* Z", cut="BORES")
    trace = read_program(spoil.nudged(text, turns[2], "Z", -0.01), stored_of(one.order.setup))
    closer = looked_closer(one.good, one.good.recut(one.order, (trace, one.traces[1])))
    assert closer is not None
    many = len(one.good.sights)
    assert 200 < len(closer.sights) - many < 2000
    off = np.hypot(closer.sights.x[many:] + 15.0, closer.sights.y[many:])
    assert off.max() <= 1.0 + 1.5 + 1e-6
    # the bore is open there in the good programs too, but for the skin's rim at its corner
    assert np.mean(closer.thickness[many:][off < 2.4] == 0.0) > 0.98


def test_stand() -> None:
    assert classed(lies=Misplacement(z=0.1)).grade == HARMFUL
    assert classed(lies=Misplacement(x=0.02)).grade == HARMFUL
    assert classed(lies=Misplacement(x=0.001)).grade == HARMLESS
    good = oracle().order
    other = replace(good, setup=replace(good.setup, flip="Y"))
    assert classed(order=other).grade == HARMFUL


def test_texts_that_cannot_be_read_are_refused() -> None:
    assert classed(a=oracle().texts[0].replace("M2\n", "")).grade == REFUSED


def test_an_end_hangs_out_by_hand() -> None:
    """Corners of 4 mm: the ends lie 8 mm more than 2 x (26, 6) apart, 61.37; the tab that stays is
    0.77 mm off the middle of the short side, so 30.09 from the middle, its half width 0.35 nearer."""
    text = Text.of(oracle().texts[1])
    for upper in (False, True):
        found = classed(b=half_dropped(text, upper, np.random.default_rng(1)).whole())
        assert found.grade == HARMFUL
    found = classed(b=half_dropped(text, False, np.random.default_rng(1)).whole())
    assert told(found)["an end hangs out"] == pytest.approx(61.37 / 2 + 30.09 - 0.35, abs=0.5)


def test_a_neck_begun_early_takes_more_to_snap() -> None:
    good = made("necked")
    a, b = good.texts
    assert a is not None
    assert b is not None
    text, whole = Text.of(b), Oracle(good.order, (a, b))
    cut = next(span for span in text.cuts if "NECKS" in text.lines[span[0]])
    changed = early_lifts(text, cut, np.random.default_rng(5)).whole()
    found = whole.classed(Stand(order=good.order, texts=(a, changed)))
    assert found.grade == HARMFUL
    assert told(found)["a neck that takes more to snap"] > 1.5
