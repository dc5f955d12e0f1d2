"""Bevels as an order writes them."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from knifecam.blade.finished_surface import edge_curve, past_plunge
from knifecam.curve import place_at
from knifecam.errors import DrawingError, OrderError
from knifecam.making import make
from knifecam.order import load_order, order_from_text
from knifecam.shop import Order

EXAMPLES = Path(__file__).parents[3] / "examples"
FIELD = re.sub(
    r"\[bevelling\]\n.*\n\n",
    "",
    (EXAMPLES / "field-knife-230x32.toml").read_text(encoding="utf-8"),
)
WRITTEN = 'edge = "EDGE"\nplunge = "PLUNGE"\nangle = 5'


def field(keys: str, more: str = "") -> Order:
    """Return the field knife's order with other keys of its bevel."""
    start = FIELD.index("angle = 5")
    end = FIELD.index("\n", start)
    text = FIELD[: FIELD.index('edge = "EDGE"')] + keys + FIELD[end:] + more
    return order_from_text(text, folder=EXAMPLES)


def refused(keys: str) -> str:
    with pytest.raises((OrderError, DrawingError)) as error:
        field(keys)
    return "\n".join(error.value.lines)


def test_an_edge_by_layer_ends_exactly_at_the_tip() -> None:
    order = load_order(EXAMPLES / "field-knife-230x32.toml")
    (bevel,) = order.blade.bevels
    edge = edge_curve(bevel, order.blade.outline)
    assert tuple(edge.vertices[-1]) == (112.0, 4.0)
    assert edge.end_headings[-1] == pytest.approx(math.atan2(4 - 0.8, 112 - 105.9), abs=0.02)
    middle, _ = place_at(edge, edge.length / 2)
    assert past_plunge(bevel, middle)[0] < 0


def test_an_edge_by_two_points_is_the_same_edge() -> None:
    by_layer = load_order(EXAMPLES / "field-knife-230x32.toml").blade.bevels[0].edge
    keys = "edge = [[2.7, -12.5], [112, 4]]\nplunge = [[8.5, -10], [9.9, 10]]\nangle = 5"
    by_points = field(keys).blade.bevels[0].edge
    assert by_points.end == by_layer.end
    assert by_points.start == pytest.approx(by_layer.start, abs=0.1)


def test_a_refusal_names_the_land_that_the_order_does_not_state() -> None:
    """0.4 mm of land and 2 degrees reach over (3.51 - 0.4) / 2 / tan 2 = 44.53 mm."""
    silent = field('edge = "EDGE"\nplunge = "PLUNGE"\nangle = 2')
    with pytest.raises(OrderError) as error:
        make(silent)
    for line in error.value.lines:
        assert "grind height=44.529 mm" in line
        assert line.endswith(
            "[default, not set in the order: bevels[1].land = 0.4 mm (by blade thickness 3.51 mm;"
            " common practice)]"
        )
    said = field('edge = "EDGE"\nplunge = "PLUNGE"\nangle = 2\nland = 0.4')
    with pytest.raises(OrderError, match=r"or a thinner plate$"):
        make(said)


def test_a_grind_height_is_an_angle() -> None:
    order = field('edge = "EDGE"\nplunge = "PLUNGE"\nheight = 16\nland = 0.5')
    rise = (order.blade.thickness - 0.5) / 2
    assert order.blade.bevels[0].angle == pytest.approx(math.atan(rise / 16))
    assert any("grind line 16.000 mm from the edge" in str(one) for one in order.assumed)


def test_a_land_at_a_face_is_ground_from_the_other_side() -> None:
    bevel = field('edge = "EDGE"\nplunge = "PLUNGE"\nangle = 9\nedge_at = "b"').blade.bevels[0]
    assert bevel.sides == "A"
    assert bevel.edge_at == pytest.approx(-(3.51 - 0.4) / 2)


def test_the_steps_follow_from_the_cusp() -> None:
    """A corner radius of 1 mm in steps this small acts as a ball: s = 2 sqrt(2 r h - h^2) cos a."""
    keys, cusps = 'edge = "EDGE"\nplunge = "PLUNGE"\nangle = 5', (0.002, 0.003)
    orders = [field(keys, f"\n[bevelling]\ncusp = {cusp}\n") for cusp in cusps]
    steps = [o.cuttings("bevel-finish")[0].stepover for o in orders]
    ball = [2 * math.sqrt(2 * c - c**2) * math.cos(math.radians(5)) for c in cusps]
    assert steps == pytest.approx(ball, abs=0.001)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('edge = "EDGE"', "bevels[1]: angle or height is missing; give one of them"),
        ('edge = "EDGE"\nangle = 5\nheight = 9', "give either angle or height, and not both"),
        ('edge = "EDGE"\nangle = 5\nprofile = "hollow"', "a hollow profile must state it"),
        ('edge = "EDGE"\nangle = 5\nsag = 0.1', 'belongs to profile="convex"'),
        ("edge = [[0, 40], [112, 4]]\nangle = 5", "must lie on the outline within 1 mm"),
        ('edge = "EDGE"\nangle = 5\nplunge = "BORES"', "draw a line across the bevel"),
        ('edge = "EDGE"\nheight = 9\nland = 3.6', "land=3.6 mm must be less than the plate"),
        (
            'edge = "EDGE"\nangle = 5\nprofile = "hollow"\nwheel = 20',
            "wheel=20.0 mm dips below the edge",
        ),
        (
            'edge = "EDGE"\nangle = 5\nprofile = "convex"\nsag = 2',
            "sag=2.0 mm must be above 0 and below",
        ),
        ('edge = "EDGE"\nangle = 5\nland = 4', "land=4 mm must be less than the plate"),
        (
            'edge = "EDGE"\nangle = 5\nedge_at = 2.5',
            "edge_at=2.500 mm puts the land out of the plate",
        ),
        ('edge = "EDGE"\nangle = 5\nland = 3.4', "wants more than"),
        ('edge = "EGDE"\nangle = 5', "bevels[1].edge: layer 'EGDE' is not in the drawing"),
        (WRITTEN + "\nplunge_radius = 0.4", "is more than plunge_radius=0.4 mm of bevel"),
        ('edge = "EDGE"\nheight = 2.5', "which is a height of 3.335 to 59.383 mm"),
    ],
)
def test_what_cannot_be_meant_is_refused(keys: str, said: str) -> None:
    lines = refused(keys)
    assert said in lines
    assert "outline.depth_a" not in lines


def test_a_layer_drawn_off_the_outline_is_refused() -> None:
    """The plunges' lines cross the blade: their ends are further off than points given may be."""
    line = refused('edge = "PLUNGE"\nangle = 5')
    assert line.startswith(
        'bevels[1].edge="PLUNGE": the edge must lie on the outline within 1 mm; at ('
    )
    assert line.endswith(" mm from it: draw it along the outline")


def test_an_edge_round_a_point_is_two_bevels() -> None:
    told = refused("edge = [[2.7, -12.5], [20, 14]]\nangle = 5")
    assert "bevels[1].edge runs round the point at (112.00, 4.00), where it turns by 1" in told
    assert "each side of a point is a bevel of its own" in told
    assert "would be needed" not in told


def test_an_edge_on_the_layer_of_the_whole_outline_is_asked_for() -> None:
    told = refused('edge = "PROFILE"\nangle = 5')
    assert 'bevels[1].edge="PROFILE": the drawing has no curve on that layer but' in told
