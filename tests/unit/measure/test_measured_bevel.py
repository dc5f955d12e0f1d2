"""What is measured of bevels, lands and plunges, against figures worked out by hand.

Programs are hand-written from closed forms (`hand_bevel`); where a program is cut otherwise than
ordered on purpose, the measure must tell by how much.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from knifecam.blade import Bevel, Plunge
from knifecam.blade.finished_surface import half_thickness
from knifecam.curve import Curve
from knifecam.judge.prove import judge
from knifecam.judge.verdict_figures import shape_figures
from knifecam.measure.bevel_places import places_on
from knifecam.measure.measured_bevel import (
    BevelLine,
    MeasuredBevel,
    measure_plunges,
    measured_bevels,
    side_symmetry,
)
from knifecam.measure.measured_edge import measure_edges
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Order
from knifecam.sweep.side_program import SideProgram, side_of, stored_of
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge import hand_written as plain
from tests.unit.judge.hand_bevel import Pass, figures

UM = 1e-3


def sides_of(order: Order, *texts: str | None) -> tuple[SideProgram | None, SideProgram | None]:
    found: list[SideProgram | None] = []
    first = 0
    for name, text in zip("AB", texts, strict=False):
        side = None
        if text is not None:
            side = side_of(order, name, text, read_program(text, stored_of(order.setup)), first)
            first += len(side)
        found.append(side)
    return found[0], found[1] if len(found) > 1 else None


def ground(order: Order, text: str) -> MeasuredBevel:
    (found,) = measured_bevels(order, sides_of(order, text))
    return found


def with_kind(order: Order, corner: float) -> Order:
    kind = "ball" if corner == hand.R else "bull-nose" if corner else "flat"
    return replace(order, cutters=(order.cutters[0], replace(order.cutters[1], kind=kind)))


def by_hand(step: float, angle: float, corner: float) -> float:
    """The cusp by plane geometry (`tests/published/test_cusp_formulas.py`), written out once more."""
    if corner == hand.R or step <= corner * math.sin(2 * angle):
        return corner - math.sqrt(corner**2 - (step / 2 / math.cos(angle)) ** 2)
    rise = step * math.tan(angle)
    if rise <= corner:
        u = math.sqrt(2 * corner * rise - rise**2)
        return corner * (1 - math.cos(angle)) + (step - u) * math.sin(angle)
    return corner * (1 - math.sin(angle) - math.cos(angle)) + step * math.sin(angle)


@pytest.mark.parametrize("corner", [0.0, 0.1, 0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    ("angle_deg", "land", "step"),
    [(2.0, 2.4, 0.09), (5.0, 2.0, 0.13), (10.0, 1.0, 0.2), (15.0, 0.4, 0.1), (25.0, 0.4, 0.15)],
)
def test_cusps_are_as_the_formulas_have_them(
    angle_deg: float, land: float, step: float, corner: float
) -> None:
    with figures(ANGLE=math.radians(angle_deg), LAND=land, CORNER=corner, FINISH=step):
        order = with_kind(hand.order(), corner)
        rows = hand.stage_passes("finish")
        found = ground(order, hand.finish_only("A", rows))
        cut = rows[1].touch - rows[0].touch
        expected = by_hand(cut, hand.ANGLE, corner)
    highest = max(float(line.cusps[1:-1].max()) for line in found.lines)
    assert abs(highest - expected) <= max(0.1 * expected, 0.15 * UM)
    assert abs(highest - expected) <= 0.02 * expected + 0.1 * UM
    for line in found.lines:
        seen = max(0.02 * cut, 2 * UM) if corner else cut / 15  # a rim has no lowest place
        assert np.allclose(line.steps[2:-2], cut, atol=seen)
        assert line.off.min() > -0.2 * UM
    assert np.degrees(np.abs(found.angles - found.bevel.angle)).max() < 0.01


@pytest.mark.parametrize("more_deg", [-0.05, 0.02, 0.1])
def test_another_angle_is_read_as_what_it_is(more_deg: float) -> None:
    order = hand.order()
    with figures(ANGLE=hand.ANGLE + math.radians(more_deg)):
        text = hand.finish_only("A", hand.stage_passes("finish"))
    found = np.degrees(ground(order, text).angles)
    assert found == pytest.approx(15.0 + more_deg, abs=0.001)


def test_land_and_symmetry_follow_a_lower_side() -> None:
    """Side A 4 um low: 4 um less land, and 4 um between the sides, plumb."""
    order = hand.order()
    rows = hand.stage_passes("finish")
    low = [Pass(r.touch, r.y, r.z - 0.004) for r in rows]
    sides = sides_of(order, hand.finish_only("A", low), hand.finish_only("B", rows))
    (edge,) = measure_edges(order, sides)
    assert edge.land == pytest.approx(hand.LAND - 0.004, abs=0.2 * UM)
    assert edge.wanted == pytest.approx(hand.LAND, abs=1e-9)
    found = side_symmetry(order, measured_bevels(order, sides), 0)
    assert found == pytest.approx(0.004, abs=0.1 * UM)


def test_symmetry_of_a_line_that_ends_at_a_ridge_is_read_as_far_as_it_goes() -> None:
    """One side 1 um a mm steeper: 1 mm of line tells 1 um, though the bevel is 4 mm wide elsewhere."""

    def side(name: str, rising: float) -> MeasuredBevel:
        none = np.zeros(0)
        line = BevelLine(
            station=5.0, places=SimpleNamespace(edge=np.linspace(0.0, 1.0, 50)), off=none, last=none,
            touch=none, cusps=none, predicted=none, steps=none, rising=rising, at_edge=0.0,
        )  # fmt: skip
        bevel = hand.order().blade.bevels[0]
        return MeasuredBevel(bevel=bevel, index=0, side=name, width=4.0, lines=(line,))

    found = side_symmetry(hand.order(), (side("A", 0.0), side("B", 0.001)), 0)
    assert found == pytest.approx(UM, abs=1e-9)


def test_sides_of_one_program_mirror_each_other() -> None:
    order = hand.order()
    texts = [hand.finish_only(side, hand.stage_passes("finish")) for side in "AB"]
    found = side_symmetry(order, measured_bevels(order, sides_of(order, *texts)), 0)
    assert found is not None
    assert found < 0.2 * UM


def curved(profile: Callable[[float], tuple[float, float]], step: float) -> list[Pass]:
    """Return passes on a profile that gives height and slope at a distance from the edge."""
    count = math.ceil(hand.width() / step)
    rows = []
    for k in range(count + 1):
        y = hand.width() * k / count
        height, slope = profile(y)
        back = hand.CORNER * math.sin(slope) + hand.R - hand.CORNER
        rows.append(Pass(y, y - back, height + hand.CORNER * (math.cos(slope) - 1)))
    return rows


def arc_through(radius: float, *, hollow: bool) -> Callable[[float], tuple[float, float]]:
    """The arc through edge and grind line: its centre lies on the chord's middle perpendicular."""
    width, rise = hand.width(), (plain.THICK - hand.LAND) / 2
    chord = math.hypot(width, rise)
    far = math.sqrt(radius**2 - chord**2 / 4) * (1 if hollow else -1)
    x = width / 2 - far * rise / chord
    z = hand.LAND / 2 + rise / 2 + far * width / chord

    def profile(y: float) -> tuple[float, float]:
        run = math.sqrt(radius**2 - (y - x) ** 2)
        return (z - run if hollow else z + run), math.atan((y - x) / run * (1 if hollow else -1))

    return profile


@pytest.mark.parametrize("hollow", [True, False])
def test_curved_profiles_are_measured_against_their_arcs(hollow: bool) -> None:
    radius = 60.0
    chord = math.hypot(hand.width(), (plain.THICK - hand.LAND) / 2)
    sag = radius - math.sqrt(radius**2 - chord**2 / 4)
    bevel = hand.bevel(
        profile="hollow" if hollow else "convex", wheel=radius if hollow else 0.0,
        sag=0.0 if hollow else sag,
    )  # fmt: skip
    order = hand.order()
    order = replace(order, blade=replace(order.blade, bevels=(bevel,)))
    rows = curved(arc_through(radius, hollow=hollow), hand.FINISH)
    found = ground(order, hand.finish_only("A", rows))
    for line in found.lines:
        assert line.off.min() > -0.2 * UM
        inner = slice(2, -2)
        gap = np.abs(line.cusps[inner] - line.predicted[inner])
        assert np.all(gap <= np.maximum(0.02 * line.predicted[inner], 0.1 * UM))
    assert np.degrees(found.angles) == pytest.approx(15.0, abs=0.002)


def plunged(radius: float = 5.0) -> Bevel:
    line = Curve(np.array([(30.0, -20.0), (30.0, 40.0)]), np.zeros(2), closed=False)
    return hand.bevel(plunges=(Plunge(line=line, radius=radius),))


def ball_lines(radius: float, ball: float, past: float = 0.0) -> str:
    """Return a program of a ball along straight lines that touch the plunge at even steps.

    Past the line x = 30 toward -x the bevel rises by (Rp - sqrt(Rp^2 - s^2)) / cos a; along y it is
    straight, so the ball's centre, a radius off along the normal, runs on a straight line too.
    """
    w = plain.Writer(face=0.0)
    plain.head(w)
    hand.begin_cut(w, "CUT 1 OF 1: PLUNGE, CUTTER 2", "G54", 2)
    b = hand.Beside(w, "A")
    tan, cosine = math.tan(hand.ANGLE), math.cos(hand.ANGLE)
    top = math.sqrt(radius**2 - (radius - 1.3 * cosine) ** 2)
    for k in range(int(top / 0.05) + 4):
        s = 0.05 * k
        run = math.sqrt(radius**2 - s**2)
        slope = s / run / cosine
        size = math.sqrt(slope**2 + tan**2 + 1)
        ends = []
        for y in (-1.0, 9.0):
            z = hand.LAND / 2 + y * tan + (radius - run) / cosine
            ends.append((
                30.0 - s - past + ball * slope / size, y - ball * tan / size,
                z + ball / size - ball,
            ))  # fmt: skip
        b.w.rapid_z(5.0)
        b.rapid(*ends[0][:2])
        for x, y, z in ends:
            b.line(x, y, z - plain.THICK / 2)
    plain.end_cut(w)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


@pytest.mark.parametrize(("radius", "past"), [(5.0, 0.0), (5.1, 0.0), (5.0, 0.02), (4.0, 0.0)])
def test_radius_and_place_of_a_plunge(radius: float, past: float) -> None:
    order = hand.order()
    order = replace(order, blade=replace(order.blade, bevels=(plunged(),)))
    ball = replace(order.cutters[1], kind="ball", corner=hand.R)
    order = replace(order, cutters=(order.cutters[0], ball))
    text = ball_lines(radius, hand.R, past)
    (found,) = measure_plunges(order, sides_of(order, text))
    assert len(found.radii) >= 2
    assert found.radii == pytest.approx(radius, abs=0.005)
    assert found.shifts == pytest.approx(past, abs=0.005)
    if (radius, past) == (5.0, 0.0):
        assert found.off.min() > -0.2 * UM


def test_places_agree_with_the_blade_s_own_surface() -> None:
    """The judge takes the surface apart by bevels; together it is the blade's."""
    order = hand.order()
    blade = replace(order.blade, bevels=(plunged(), replace(hand.bevel(name="B"), sides="B")))
    points = np.random.default_rng(5).uniform((-2, -2), (62, 22), (20000, 2))
    for side in "AB":
        places = places_on(blade, points, side)
        assert np.array_equal(places.target, half_thickness(blade, points, side))
        metal = np.isfinite(places.target)
        known = places_on(blade, points[metal], side, metal=True)
        assert np.allclose(known.target, places.target[metal], atol=1e-9)
        assert np.array_equal(known.bevel, places.bevel[metal])


def test_the_verdict_tells_all_figures_of_the_good_program() -> None:
    order = hand.order()
    judged = judge(order, (hand.side_a(), hand.side_b()))
    figures_ = shape_figures(judged.case)
    (bevel,) = figures_["bevels"]
    for side in "AB":
        found = bevel["sides"][side]
        assert found["angle_off_deg"] < 0.01
        assert found["most_gouged"]["amount"] < 0.001
        assert found["cells"]["most_gouged"] < 0.001
        assert found["grind_line"]["mean"] == pytest.approx(hand.width(), abs=0.002)
        assert abs(found["cusp"]["highest"] - found["cusp"]["predicted"]) < 0.00015
    assert bevel["symmetry"] < 0.002
    assert bevel["land"]["most_off"] < 0.005
    rows = bevel["sensitivity"][0]
    assert rows["z_lower"]["grind_line"] == pytest.approx(0.01 / math.tan(hand.ANGLE), abs=1e-4)
    assert figures_["flats"] == {"A": 0.0, "B": 0.0}


def test_sensitivity_of_the_grind_line_is_the_bench_s() -> None:
    """0.02 mm of Z moves it 0.57 mm at 2 degrees, 0.38 at 3, 0.29 at 4, 0.23 at 5."""
    for angle_deg, moved in ((2, 0.57), (3, 0.38), (4, 0.29), (5, 0.23)):
        with figures(ANGLE=math.radians(angle_deg), LAND=2.4):
            order = hand.order()
            judged = judge(order, (hand.finish_only("A", hand.stage_passes("finish")), None),
                           cell=0.2, only_sights=True)  # fmt: skip
        (row,) = shape_figures(judged.case)["bevels"][0]["sensitivity"]
        assert 2 * row["z_lower"]["grind_line"] == pytest.approx(moved, abs=0.006)
