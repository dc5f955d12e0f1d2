"""The oracle at changes whose effect is worked out by hand, on the plain blade of 60 x 20 x 3 mm."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from knifecam.sabotage.change_stand import Stand
from knifecam.sabotage.harm import HARMFUL, HARMLESS, NEAR
from knifecam.sabotage.oracle import REFUSED, Classed, Oracle
from knifecam.simulator.misplaced import Misplacement
from tests.sabotage import harness as spoil
from tests.sabotage.made import made

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


def test_stand() -> None:
    assert classed(lies=Misplacement(z=0.1)).grade == HARMFUL
    assert classed(lies=Misplacement(x=0.02)).grade == HARMFUL
    assert classed(lies=Misplacement(x=0.001)).grade == HARMLESS
    good = oracle().order
    other = replace(good, setup=replace(good.setup, flip="Y"))
    assert classed(order=other).grade == HARMFUL


def test_texts_that_cannot_be_read_are_refused() -> None:
    assert classed(a=oracle().texts[0].replace("M2\n", "")).grade == REFUSED
