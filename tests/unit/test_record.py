"""Records refuse what they cannot hold, whatever is put into them, and with one kind of error."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from knifecam.blade import Bevel, EdgeBreak, Jimping, Plunge
from knifecam.curve import Stretch, polyline
from knifecam.errors import OrderError
from knifecam.record import Record, bounds
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Clamp, MeasuredBore, Mill, Order, Setup, Workholding
from tests.agreement.orders import simple_order

STRETCH = Stretch(start=1.0, end=9.0)
BEVEL = Bevel(
    name="V", edge=STRETCH, angle=0.1, land=0.3,
    plunges=(Plunge(line=polyline([(0, 0), (0, 9)], closed=False), radius=5.0),),
)  # fmt: skip
MORE = (
    BEVEL,
    EdgeBreak(name="E1", of="B1", side="A", width=0.3, stretches=(STRETCH,)),
    Jimping(name="J1", stretch=STRETCH, diameter=2.5, depth=0.45, pitch=2.8, centres=((0.0, 0.0),)),
    Clamp(side="A", x_low=0.0, y_low=0.0, x_high=1.0, y_high=1.0, height=5.0),
    MeasuredBore(bore="R1", x=0.0, y=0.0),
    Workholding(kind="bores", screws=("B1",)),
    Mill(machine_zero=((0.0, 0.0, 0.0), None), change_place=((0.0, 0.0), None)),
)

NEVER = (
    math.nan, math.inf, -math.inf, 10**400, 3 + 1j, object(), [1.0], {"a": 1}, b"M7", "M7\nS9", "\u202e",
    "", (math.nan,), ((),), (None, None, None, None), np.array([1.0]),
)  # fmt: skip
"""What no field of any record may hold: no quantity, no word, no name, no row of records."""

SELDOM = (
    -1,
    0,
    1e9,
    -1e-9,
    True,
    7,
    0.5,
    "A",
    "MSG",
    None,
    (),
    (1.0, 2.0),
    (1.0, 2.0, 3.0),
    STRETCH,
)
"""What fits some."""


def within(value: object) -> Iterator[Record]:
    """Yield a record and all records in it."""
    if isinstance(value, tuple):
        for one in value:
            yield from within(one)
    elif isinstance(value, Record):
        yield value
        for field in fields(value):  # type: ignore[arg-type]
            yield from within(getattr(value, field.name))


SOUND = {type(one): one for one in (*within(MORE), *within(simple_order()))}


def test_every_public_record_is_tried():
    import knifecam

    public = {getattr(knifecam, name) for name in knifecam.__all__}
    records = {one for one in public if isinstance(one, type) and is_dataclass(one)}
    results = {knifecam.Curve, knifecam.Motions, knifecam.Engagement, knifecam.Made}
    assert records - results <= {*SOUND}
    assert len(SOUND) == 23


@pytest.mark.parametrize("kind", SOUND, ids=lambda kind: kind.__name__)
def test_what_no_field_may_hold_is_refused_by_name(kind):
    for field in fields(kind):
        for value in NEVER:
            if value == "" and (kind, field.name) in {(Order, "digest")}:
                continue
            with pytest.raises(OrderError) as caught:
                replace(SOUND[kind], **{field.name: value})
            assert caught.value.lines[0].startswith(f"{kind.__name__}.{field.name}"), value
            assert all(line.isprintable() for line in caught.value.lines)


def made_or_told(record: Record, key: str, value: object) -> Record | OrderError:
    try:
        return replace(record, **{key: value})  # type: ignore[type-var]
    except OrderError as error:
        return error


@pytest.mark.parametrize("kind", SOUND, ids=lambda kind: kind.__name__)
def test_what_a_field_holds_lies_within_its_bounds(kind):
    for field in fields(kind):
        rule = bounds(kind, field.name)
        for value in SELDOM:
            made = made_or_told(SOUND[kind], field.name, value)
            if isinstance(made, OrderError):
                assert made.lines[0].startswith(f"{kind.__name__}.{field.name}")
                continue
            held = getattr(made, field.name)
            if rule is not None and isinstance(held, (int, float, str)):
                assert rule.holds(held), (field.name, value)


def spoiled() -> Iterator[tuple[str, Order]]:
    """Yield orders with one field changed to what its record lets pass."""
    order = simple_order()
    homes: dict[str, Any] = {
        "tabs": order.tabs, "trench": order.trench, "boring": order.boring, "setup": order.setup,
        "bevelling": order.bevelling,
    }  # fmt: skip
    for home, record in (*homes.items(), ("mill", order.setup.mill), ("plate", order.setup.plate)):
        for field in fields(record):
            for value in SELDOM:
                try:
                    made = replace(record, **{field.name: value})
                    made = made if home in homes else replace(order.setup, **{home: made})
                    place = home if home in homes else "setup"
                    yield f"{home}.{field.name}={value}", replace(order, **{place: made})
                except OrderError:
                    continue


def test_what_records_let_pass_is_planned_or_refused_in_words():
    for what, order in spoiled():
        lines = (*contradictions(order), *feasible(order))
        assert all(isinstance(line, str) for line in lines), what


@pytest.mark.parametrize(
    ("kind", "figures", "line"),
    [
        (Mill, {"approach_gap": -1}, "Mill.approach_gap=-1 mm must be greater than 0 and at most 10 mm"),
        (Mill, {"rapid_height": -50}, "Mill.rapid_height=-50 mm must be at least 5 and at most 200 mm"),
        (Mill, {"rapid": (0, 0, 0)}, "Mill.rapid[1]=0 mm/min must be greater than 0"),
        (Mill, {"spin_up": 1e9}, "Mill.spin_up=1000000000.0 s must be at least 0 and at most 60 s"),
        (Mill, {"coolant_code": "M8\nM3"}, 'Mill.coolant_code="M8?M3" must be one of "M7", "M8"'),
        (Mill, {"travel": "far"}, 'Mill.travel="far" must be a tuple of 3'),
        (Mill, {"travel": (1, 2)}, "Mill.travel=[1, 2] must be a tuple of 3"),
        (Setup, {"gauge": 0}, "Setup.gauge=0 must be at least 1 and at most 99"),
        (Setup, {"gauge": 2.5}, "Setup.gauge=2.5 must be a whole number"),
        (Setup, {"plate": None}, "Setup.plate=None must be a Plate"),
    ],
)  # fmt: skip
def test_a_record_says_field_value_and_rule(kind, figures, line):
    with pytest.raises(OrderError) as caught:
        replace(SOUND[kind], **figures)
    assert caught.value.lines[0].startswith(line)


def test_all_that_is_wrong_with_a_record_is_told_together():
    with pytest.raises(OrderError) as caught:
        Mill(acceleration=-1, spin_up=math.nan, units="inch")
    assert [line.partition("=")[0] for line in caught.value.lines] == [
        "Mill.units", "Mill.acceleration", "Mill.spin_up",
    ]  # fmt: skip


def test_numbers_of_numpy_are_numbers():
    mill = Mill(approach_gap=np.float64(0.5), spin_up=np.int64(3))
    assert mill == Mill(approach_gap=0.5, spin_up=3)
