"""The demo orders are sound, short, and can be made."""

from __future__ import annotations

from pathlib import Path

import pytest

from knifecam.order import load_order
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Order
from knifecam.shop.assumptions import MEASURE, PROPOSED, USUAL

EXAMPLES = Path(__file__).parents[3] / "examples"


NAMES = ("field-knife-230x32", "petty-150", "netting-knife-60", "hunter-104")


@pytest.fixture(params=NAMES)
def order(request: pytest.FixtureRequest) -> Order:
    return load_order(EXAMPLES / f"{request.param}.toml")


def test_a_demo_can_be_made(order: Order) -> None:
    assert contradictions(order) == ()
    assert feasible(order) == ()


def test_what_a_demo_assumes_is_said_line_by_line(order: Order) -> None:
    assert len(order.assumed) > 40
    assert all(one.value and one.why.kind in (MEASURE, PROPOSED, USUAL) for one in order.assumed)
    assert len(set(order.assumed)) == len(order.assumed)


def test_a_demo_keeps_its_long_edge_on_the_fence(order: Order) -> None:
    """bench.md: turn about the axis square to the fence; fence along X, flip about Y."""
    plate = order.setup.plate
    assert order.setup.flip == ("Y" if plate.length > plate.width else "X")


def test_the_blade_is_as_thick_as_the_plate_was_measured(order: Order) -> None:
    seen = [t for _, _, t in order.setup.plate.measured]
    assert order.blade.thickness == pytest.approx(sum(seen) / len(seen), abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_is_about_fifty_lines(name: str) -> None:
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8").splitlines()
    assert len([line for line in text if line.strip() and not line.startswith("#")]) <= 56


def test_the_field_knife_keeps_a_cutter_for_walls() -> None:
    order = load_order(EXAMPLES / "field-knife-230x32.toml")
    stages = {c.stage: c.cutter for c in order.cutting}
    outline = {"bore": 1, "fit": 2, "rough": 1, "finish": 2}
    bevels = {"clear": 5, "bevel-rough": 3, "bevel-semi": 3, "bevel-finish": 3, "plunge-line": 4}
    assert stages == outline | bevels
    assert [b.fitted for b in order.blade.bores] == [b.diameter == 5.0 for b in order.blade.bores]


def test_the_pettys_dowels_seat_one_way() -> None:
    order = load_order(EXAMPLES / "petty-150.toml")
    first, second = order.setup.registration.bores
    assert first.diameter != second.diameter
    assert abs(second.centre[0] - first.centre[0]) >= 0.6 * order.setup.plate.length
    assert order.setup.datum == (first.centre, first.centre)
