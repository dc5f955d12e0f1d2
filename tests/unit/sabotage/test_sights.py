"""Where the oracle looks at notches of the jimping, on the plain blade with its upper edge at Y10."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from knifecam.shop import Order
from tests.agreement.orders import simple_order
from tests.sabotage import harness as spoil
from tests.sabotage.changes.change_stand import Stand
from tests.sabotage.made import made
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS
from tests.sabotage.oracle.oracle import Oracle
from tests.sabotage.oracle.sights import RELIEVED, SOLID, VOID, _off_walls, sights_of


@cache
def jimped() -> tuple[Order, tuple[str, str]]:
    good = made("jimped")
    a, b = good.texts
    assert a is not None
    assert b is not None
    return good.order, (a, b)


def test_sights_on_both_sides_of_a_notch_where_the_blade_has_it() -> None:
    """Of diameter 2.5 and 0.45 deep: its axis is at Y10.8, its wall from Y9.55 up to Y10."""
    order, _ = jimped()
    seen = sights_of(order)
    for x, y in order.blade.jimping[0].centres:
        assert y == pytest.approx(10.8, abs=1e-9)
        away = np.hypot(seen.x - x, seen.y - y)
        for role, depth in ((SOLID, 0.006), (VOID, -0.006)):
            there = (seen.role == role) & (np.abs(away - 1.25 - depth) < 1e-6)
            assert np.count_nonzero(there) >= 6
            assert seen.y[there].min() == pytest.approx(9.55 - depth, abs=0.02)
            assert np.all(seen.y[there] < 10.0 - 0.02)
            inward = np.column_stack([x - seen.x[there], y - seen.y[there]]) / away[there, None]
            assert np.all(np.abs(seen.toward[there] - inward) < 1e-6)


def test_a_turn_of_another_radius_gouges_a_notch() -> None:
    """The arm of one turn grown by 0.03 mm goes as much further into the wall, 0.3 mm deep and above."""
    order, (a, b) = jimped()
    oracle = Oracle(order, (a, b))
    good = Stand(order=order, texts=(a, b))
    assert oracle.classed(good).grade == HARMLESS
    turn = spoil.matching(a, "^G3 .* Z.* I", cut="JIMPING")[3]
    row = spoil.rows(a)[turn - 1]
    arms = {letter: spoil.value(row, letter) or 0.0 for letter in "IJ"}
    grown = row
    for letter, arm in arms.items():
        grown = spoil.with_value(grown, letter, arm * (1 + 0.03 / np.hypot(*arms.values())))
    changed = oracle.classed(Stand(order=order, texts=(spoil.replaced(a, turn, grown), b)))
    assert changed.grade == HARMFUL
    assert changed.effects[0].what == "blade beside a wall cut away"


@pytest.mark.parametrize(("relief", "role"), [(0.0, SOLID), (0.01, SOLID), (0.04, RELIEVED)])
def test_no_face_is_looked_for_where_side_b_opens_wider(relief: float, role: int) -> None:
    """6 um into the blade round a bore, where 0.04 mm more of diameter cut 20 um away."""
    order = simple_order()
    order = replace(order, boring=replace(order.boring, oversize=relief, opening="skin"))
    seen, bore = sights_of(order), order.blade.bores[0]
    away = np.hypot(*(np.array([seen.x, seen.y]) - np.array(bore.centre)[:, None]))
    ring = np.abs(away - bore.diameter / 2 - 0.006) < 1e-4
    assert np.count_nonzero(ring) >= 24
    assert set(seen.role[ring]) == {role}


@pytest.mark.parametrize(
    ("relief", "seen"), [(0.0, [False, True, True]), (0.5, [False, False, True])]
)
def test_faces_are_looked_at_beyond_what_side_b_opens_wider(
    relief: float, seen: list[bool]
) -> None:
    """0.1 mm off the wall of a bore of 5 mm, which half the relief moves out."""
    order = simple_order()
    order = replace(order, boring=replace(order.boring, oversize=relief))
    (bore,) = order.blade.bores
    places = np.array(bore.centre) + np.array([[2.59, 0.0], [2.61, 0.0], [2.86, 0.0]])
    assert _off_walls(order, places).tolist() == seen
