"""One sound order and its parts; every test changes what it is about."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest

from knifecam.curve import polyline, rectangle
from knifecam.errors import OrderError
from knifecam.order import order_from_text

SOUND = """\
name = "Paring knife"
[plate]
length = 200
width = 60
thickness = [3.0, 3.0, 3.0, 3.0]
[[cutters]]
number = 1
kind = "bull-nose"
diameter = 3.0
corner = 0.2
[[cutters]]
number = 2
kind = "flat"
diameter = 2.0
"""


def drawn(**changes: object) -> SimpleNamespace:
    """Return parts as a drawing gives them: a blade of 140 x 24 mm with two bores and a slot."""
    parts = {
        "outline": polyline([(0, 0), (140, 0), (140, 10), (126, 24), (0, 24)]),
        "bores": (
            SimpleNamespace(name="bore-1", centre=(10.0, 12.0), diameter=5.0),
            SimpleNamespace(name="bore-2", centre=(50.0, 12.0), diameter=5.0),
        ),
        "slots": (rectangle(25, 8, 35, 16),),
        "tabs": (),
        "no_tabs": (),
        "no_tab_pairs": (),
    }
    return SimpleNamespace(**(parts | changes))


@pytest.fixture
def parts() -> SimpleNamespace:
    return drawn()


@pytest.fixture
def sound() -> str:
    return SOUND


@pytest.fixture
def draw() -> Callable[..., SimpleNamespace]:
    return drawn


@pytest.fixture
def refused(parts: SimpleNamespace) -> Callable[..., tuple[str, ...]]:
    """Return a function that reads an order which must be refused, and gives the lines."""

    def lines(text: str, drawing: object = parts) -> tuple[str, ...]:
        with pytest.raises(OrderError) as caught:
            order_from_text(text, folder=".", drawing=drawing)
        return caught.value.lines

    return lines
