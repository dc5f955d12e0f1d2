"""Worked examples of cutter makers' catalogues, and closed forms beside them.

Mitsubishi Materials, Formulas for milling, and Cutting power for face milling (technical information
of its general catalogue; page and year are not at hand). Ingersoll, general catalogue 2011, page 451.
Sandvik Coromant, guide to heat-resistant alloys, page 107; the feed at the centre printed there
does not follow from its own figures and is left out. What is marked as derived was worked out by hand.
"""

import math

import pytest

from knifecam.cutting.engagement import (
    engaged_angle,
    feed_inside,
    feed_outside,
    feed_per_tooth,
    helix_angle,
    helix_turn,
    largest_chip,
    mean_chip,
    spindle_speed,
    surface_speed,
    table_feed,
)


def test_mitsubishi_formulas_for_milling_cutting_speed():
    """D 125 mm at 350 rev/min: 137.4 m/min (printed with pi = 3.14)."""
    assert surface_speed(350, 125) == pytest.approx(137.4, abs=0.05)


def test_mitsubishi_formulas_for_milling_table_feed():
    """0.1 mm a tooth, 10 teeth, 500 rev/min: 500 mm/min."""
    assert table_feed(0.1, 10, 500) == pytest.approx(500)


def test_mitsubishi_face_milling_spindle_speed():
    """80 m/min at 250 mm: 101.91 rev/min printed with pi = 3.14, 101.86 with pi."""
    assert spindle_speed(80, 250) * math.pi / 3.14 == pytest.approx(101.91, abs=0.005)


def test_ingersoll_2011_page_451_in_inches():
    """0.375 in, 450 sfm, 4 teeth, 0.004 in: 4584 rev/min, 73.3 in/min."""
    speed = spindle_speed(450 * 0.3048, 0.375 * 25.4)
    assert speed == pytest.approx(4584, abs=0.5)
    assert table_feed(0.004, 4, speed) == pytest.approx(73.3, abs=0.05)


def test_sandvik_hrsa_guide_page_107_spindle_and_feed():
    """D 35, 25 m/min, 0.2 mm, 4 teeth: 227 rev/min, 182 mm/min at the rim."""
    speed = spindle_speed(25, 35)
    assert speed == pytest.approx(227, abs=0.5)
    assert table_feed(0.2, 4, speed) == pytest.approx(182, abs=0.5)


def test_circular_interpolation_inside_and_outside():
    """Bore 10, cutter 6, 500 at the wall: 200 inside; boss 10: 800 (derived from the formulas)."""
    assert feed_inside(500, 10, 6) == pytest.approx(200)
    assert feed_outside(500, 10, 6) == pytest.approx(800)


def test_helix_of_a_bore():
    """Bore 10, cutter 6, pitch 0.2: 0.91181 degrees, 12.567962 mm a turn (derived)."""
    assert math.degrees(helix_angle(10, 6, 0.2)) == pytest.approx(0.91181, abs=5e-6)
    assert helix_turn(10, 6, 0.2) == pytest.approx(12.567962, abs=5e-7)


def test_a_tenth_of_the_diameter_wide_makes_a_triangle_of_3_4_and_5():
    """cos of the angle is 1 - 2 x 0.1 = 4/5, so its sine is 3/5: the chip is 0.6 of the feed."""
    diameter = 12.7
    angle = float(engaged_angle(0.1 * diameter, diameter))
    assert math.degrees(angle) == pytest.approx(36.869898, abs=5e-7)
    assert largest_chip(1.0, 0.0, angle) == pytest.approx(0.6, abs=1e-12)
    tooth = 0.0508 / float(largest_chip(1.0, 0.0, angle))
    assert table_feed(tooth, 4, 8000) == pytest.approx(0.0508 / 0.6 * 32000, rel=1e-12)


@pytest.mark.parametrize(
    ("share", "factor"),
    [(0.50, 1.0), (0.25, 2 / math.sqrt(3)), (0.10, 5 / 3), (0.05, 2.2941573), (0.01, 5.0251891)],
)
def test_a_thin_cut_may_feed_faster_by_the_sine_of_its_angle(share, factor):
    """1 / (2 sqrt(r (1 - r))), r the width over the diameter, worked out by hand (derived)."""
    angle = engaged_angle(share, 1.0)
    assert 1 / float(largest_chip(1.0, 0.0, angle)) == pytest.approx(factor, rel=5e-8)


def test_a_light_side_cut_by_hand():
    """D 6, 4 teeth, ae 0.3, fz 0.03, 80 m/min: derived, against the figures worked out beforehand."""
    spindle = spindle_speed(80, 6)
    assert spindle == pytest.approx(4244.132, abs=5e-4)
    assert feed_per_tooth(509.29582, 4, spindle) == pytest.approx(0.03, abs=5e-9)
    angle = float(engaged_angle(0.3, 6))
    assert math.degrees(angle) == pytest.approx(25.8419, abs=5e-5)
    for entry, leave in ((0.0, angle), (math.pi - angle, math.pi)):  # conventional and climb alike
        assert largest_chip(0.03, entry, leave) == pytest.approx(0.0130767, abs=5e-8)
        assert mean_chip(0.03, entry, leave) == pytest.approx(0.0066515, abs=5e-8)
    assert 4 * angle / (2 * math.pi) == pytest.approx(0.287133, abs=5e-7)


def test_a_slot_takes_the_whole_feed_per_tooth():
    assert engaged_angle(6.0, 6.0) == pytest.approx(math.pi)
    assert largest_chip(0.03, 0.0, math.pi) == 0.03
    assert mean_chip(0.03, 0.0, math.pi) == pytest.approx(0.03 * 2 / math.pi)
    assert mean_chip(0.03, 0.0, 0.0) == 0.0
