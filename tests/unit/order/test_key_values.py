"""Quantities: text with a unit, or a bare number; conversions by their definitions."""

from __future__ import annotations

import math
import re

import pytest

from knifecam.order.key_values import (
    ACCELERATION,
    ANGLE,
    FEED_RATE,
    HARDNESS,
    LENGTH,
    MINUTES,
    SECONDS,
    SURFACE,
    TOOTH,
    TURNING,
    NotAQuantityError,
    read_quantity,
    show,
)


@pytest.mark.parametrize(
    ("written", "kind", "value"),
    [
        ("0.010 in", LENGTH, 0.254),
        ("1in", LENGTH, 25.4),
        ("3 inches", LENGTH, 76.2),
        ("40 um", LENGTH, 0.04),
        ("40 µm", LENGTH, 0.04),
        ("0.5 thou", LENGTH, 0.0127),
        ("-2.5e-1 cm", LENGTH, -2.5),
        (".5 mm", LENGTH, 0.5),
        ("8000 rpm", TURNING, 8000.0),
        ("8000 rev/min", TURNING, 8000.0),
        ("100 rev/s", TURNING, 6000.0),
        ("120 m/min", SURFACE, 120000.0),
        ("100 ft/min", SURFACE, 30480.0),
        ("100 sfm", SURFACE, 30480.0),
        ("300 mm/min", FEED_RATE, 300.0),
        ("10 ipm", FEED_RATE, 254.0),
        ("5 mm/s", FEED_RATE, 300.0),
        ("0.012 mm/tooth", TOOTH, 0.012),
        ("0.0005 in/tooth", TOOTH, 0.0127),
        ("90 s", MINUTES, 1.5),
        ("0.05 min", SECONDS, 3.0),
        ("0.5 m/s^2", ACCELERATION, 500.0),
        ("61 HRC", HARDNESS, 61.0),
        ("2 deg", ANGLE, math.radians(2)),
        ("2°", ANGLE, math.radians(2)),
        ("0.1 rad", ANGLE, 0.1),
    ],
)
def test_text_with_a_unit(written: str, kind: object, value: float) -> None:
    assert read_quantity(written, kind, "mm") == pytest.approx(value, rel=1e-12)
    assert read_quantity(written, kind, "in") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "mm", "inch"),
    [
        (LENGTH, 2.0, 50.8),
        (FEED_RATE, 2.0, 50.8),
        (TOOTH, 2.0, 50.8),
        (SURFACE, 2000.0, 609.6),
        (TURNING, 2.0, 2.0),
        (MINUTES, 2.0, 2.0),
        (ANGLE, math.radians(2), math.radians(2)),
    ],
)
def test_bare_numbers_are_in_the_declared_unit(kind: object, mm: float, inch: float) -> None:
    assert read_quantity(2, kind, "mm") == mm
    assert read_quantity(2.0, kind, "in") == inch


def test_inches_and_millimetres_are_the_same_number() -> None:
    assert read_quantity("0.5 in", LENGTH, "mm") == read_quantity(12.7, LENGTH, "mm")
    assert read_quantity(0.1, LENGTH, "in") == 2.54


@pytest.mark.parametrize(
    ("written", "kind", "says"),
    [
        ("3 s", LENGTH, "must be a length"),
        ("120 m/min", TURNING, "a surface speed belongs to surface_speed"),
        ("8000 rpm", SURFACE, "a spindle speed belongs to spindle"),
        ("0.01 mm/tooth", FEED_RATE, "a feed per tooth belongs to feed_per_tooth"),
        ("300 mm/min", TOOTH, "a feed belongs to feed"),
        ("3 mm", ANGLE, "must be an angle"),
        ("3 furlong", LENGTH, "unknown unit 'furlong'"),
        ("3 mm/", LENGTH, "unknown unit"),
        ("0,5 mm", LENGTH, "decimal comma"),
        ("three mm", LENGTH, "write a number and a unit"),
        ("3", LENGTH, "write a number and a unit"),
        ("", LENGTH, "write a number and a unit"),
        ("1 mm + 1 mm", LENGTH, "write a number and a unit"),
        ("nan mm", LENGTH, "write a number and a unit"),
        ("1e999 mm", LENGTH, "finite"),
        (float("nan"), LENGTH, "finite"),
        (float("inf"), LENGTH, "finite"),
        pytest.param(10**400, LENGTH, "finite", id="vast"),
        (True, LENGTH, "not a truth"),
        ([1], LENGTH, "must be a number"),
    ],
)
def test_what_is_no_such_quantity_is_refused(written: object, kind: object, says: str) -> None:
    with pytest.raises(NotAQuantityError, match=re.escape(says)):
        read_quantity(written, kind, "mm")


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (math.radians(20), ANGLE, "20 deg"),
        (60000.0, SURFACE, "60 m/min"),
        (0.4, LENGTH, "0.4 mm"),
        (-0.0, LENGTH, "0 mm"),
    ],
)
def test_values_are_shown_in_the_unit_of_the_bench(value: float, kind: object, text: str) -> None:
    assert show(value, kind) == text
