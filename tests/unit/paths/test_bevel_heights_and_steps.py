"""Where cutters stand on bevels, against brute force: rims dropped on the surface, and distances."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from knifecam.blade import Bevel, Blade, Plunge
from knifecam.blade.finished_surface import half_thickness
from knifecam.curve import Curve, Stretch, distance, polyline
from knifecam.paths.bevel_heights_and_steps import (
    face_on,
    finishing_stands,
    roughing_levels,
    stand_at,
)
from knifecam.paths.bevel_motions import along_track
from knifecam.paths.curve_following import Heights, follow
from knifecam.paths.plunge_motions import (
    NO_LEAD,
    PlungeLead,
    PlungeLine,
    effective_radius,
    lines_past,
    plunge_limits,
    plunge_passes,
)
from knifecam.paths.raw_offset import open_offset, open_offsets
from knifecam.shop.defaults import cusp_of, propose_cutter, step_for

MICRON = 1e-3
"""mm"""

RISE = 35 * math.tan(math.pi / 8)
BELLY = Curve(
    np.array([(-30.0, 0.0), (40.0, 0.0), (75.0, RISE), (90.0, RISE + 15.0)]),
    np.array([0.0, math.tan(math.pi / 16), 0.0, 0.0]),
    closed=False,
)
"""Straight, an eighth of a turn, straight: tangent throughout."""


def blade(angle_deg: float, radius: float = 6.0, lean: float = 0.0, **changes: object) -> Blade:
    outline = polyline([(-60, -12), (60, -12), (60, 12), (-60, 12)])
    line = polyline([(-30 * lean, -30), (30 * lean, 30)], closed=False)
    bevel = Bevel(
        name="edge", edge=Stretch(start=52.0, end=120.0), angle=math.radians(angle_deg), land=0.4,
        plunges=(Plunge(line=line, radius=radius),), **changes,  # type: ignore[arg-type]
    )  # fmt: skip
    return Blade(outline=outline, thickness=3.5, bevels=(bevel,))


def lowest_clear(target: np.ndarray, away: np.ndarray, radius: float, corner: float) -> float:
    """Return the lowest tip at which a cutter clears heights ``away`` mm from its axis."""
    under = away <= radius
    over = np.maximum(0.0, away[under] - (radius - corner))
    profile = corner - np.sqrt(np.maximum(0.0, corner**2 - over**2))
    return float((target[under] - profile).max())


@pytest.mark.parametrize("angle_deg", [1.5, 5.0, 14.0, 25.0])
@pytest.mark.parametrize(("diameter", "corner"), [(6.0, 1.0), (4.0, 0.5), (3.0, 1.5), (2.0, 0.0)])
def test_stands_are_where_a_cutter_dropped_on_the_slope_comes_to_rest(angle_deg, diameter, corner):
    made = blade(angle_deg)
    face = face_on("A", made, made.bevels[0], "X", 30.0)
    kind = "ball" if corner == diameter / 2 else "bull-nose" if corner else "flat"
    cutter = propose_cutter(1, kind, diameter, corner=corner)
    stand = stand_at(face, cutter, 4.0)
    d = stand.x + np.linspace(-cutter.radius, cutter.radius, 40001)
    rest = lowest_clear(face.height(d), np.abs(d - stand.x), cutter.radius, corner)
    assert stand.z == pytest.approx(rest, abs=0.01 * MICRON)


def test_finishing_steps_are_equal_from_edge_to_grind_line():
    made = blade(5.0)
    face = face_on("B", made, made.bevels[0], "Y", 30.0)
    cutter = propose_cutter(1, "bull-nose", 6.0, corner=1.0)
    stands = finishing_stands(face, cutter, 0.154, 0.0)
    d = np.array([one.d for one in stands])
    assert d[0] == 0.0
    assert d[-1] == pytest.approx(face.width)
    assert np.ptp(np.diff(d)) < 1e-9
    assert np.diff(d).max() <= 0.154


def test_roughing_levels_leave_their_allowance_everywhere():
    made = blade(8.0)
    face = face_on("A", made, made.bevels[0], "X", 30.0)
    cutter = propose_cutter(1, "bull-nose", 6.0, corner=1.0)
    for level in roughing_levels(face, cutter, stepdown=0.1, stepover=2.1, raised=0.13):
        assert np.diff([one.x for one in level]) == pytest.approx(2.1)
        for one in (level[0], level[-1]):
            d = one.x + np.linspace(-3.0, 3.0, 4001)
            rest = lowest_clear(face.height(d) + 0.13, np.abs(d - one.x), 3.0, 1.0)
            assert one.z >= rest - 0.01 * MICRON
        assert level[-1].z == pytest.approx(rest, abs=0.01 * MICRON)


@pytest.mark.parametrize("away", [-7.3, -2.0, 0.4, 6.0, 17.0])
def test_parallel_curves_agree_with_an_independent_offset(away):
    found = open_offset(BELLY, away)
    (at_once,) = open_offsets(BELLY, [away])
    assert at_once.vertices == pytest.approx(found.vertices, abs=1e-9)
    chords = shapely.LineString(BELLY.points(1e-5))
    other = chords.offset_curve(away, quad_segs=720)
    places = found.points(1e-3)
    assert shapely.distance(shapely.points(places), other).max() < 1 * MICRON
    assert distance(places, BELLY) == pytest.approx(abs(away), abs=1e-9)


@pytest.mark.parametrize("lean", [-0.25, 0.0, 0.25])
@pytest.mark.parametrize(("angle_deg", "diameter", "corner"), [(5, 6, 1), (15, 4, 0.5), (2, 6, 1)])
@pytest.mark.parametrize("lead", [NO_LEAD, PlungeLead(radius=1.0, aside=0.3, fall=0.1)])
def test_a_cutter_that_stops_at_its_limit_does_not_swing_into_the_plunge(
    angle_deg, diameter, corner, lean, lead
):
    """Brute force over the whole disc, at the limit and a little past it."""
    made = blade(angle_deg, lean=lean)
    face = face_on("A", made, made.bevels[0], "X", 30.0)
    cutter = propose_cutter(1, "bull-nose", diameter, corner=corner)
    stands = finishing_stands(face, cutter, face.width / 6, 0.0)
    past = np.array([-1.0, lean]) / math.hypot(1.0, lean)
    for stand, most in zip(stands, plunge_limits(face, cutter, stands, 0, lead), strict=True):
        for more, gouges in ((0.0, False), (0.35, True)):
            y = -12.0 + stand.x
            x = (most + more - past[1] * y) / past[0]
            away, turn = np.meshgrid(np.linspace(0, diameter / 2, 121), np.linspace(0, 6.2832, 181))
            places = np.column_stack(
                [(x + away * np.cos(turn)).ravel(), (y + away * np.sin(turn)).ravel()]
            )
            target = np.minimum(face.height(places[:, 1] + 12.0) + face.rise(places), 1.75)
            deep = lowest_clear(target, away.ravel(), diameter / 2, corner) - stand.z
            if not gouges:
                assert deep <= 0.05 * MICRON
            elif lead is NO_LEAD:
                assert deep > 0


@pytest.mark.parametrize("lean", [0.0, 0.3])
def test_a_ball_along_the_plunge_touches_the_surface_and_nowhere_cuts_into_it(lean):
    made = blade(9.0, lean=lean)
    face = face_on("A", made, made.bevels[0], "X", 30.0)
    ball = propose_cutter(1, "ball", 5.0)
    lines = [PlungeLine(s=s, raised=0.0) for s in lines_past(6.0, -1.0, 3.0, 0.5)]
    for motions in plunge_passes(face, 0, ball, lines, layer=0.1, feed=300.0):
        t = np.linspace(0.3, 0.7, 5)[:, None]
        k = int(np.argmax(motions.lengths))
        for place in motions.start[k] + t * (motions.stop[k] - motions.start[k]):
            away, turn = np.meshgrid(np.linspace(0, 2.5, 161), np.linspace(0, 6.2832, 241))
            at = np.column_stack(
                [(place[0] + away * np.cos(turn)).ravel(), (place[1] + away * np.sin(turn)).ravel()]
            )
            target = face.height(at[:, 1] + 12.0) + face.rise(at)
            rest = lowest_clear(np.minimum(target, 1e3), away.ravel(), 2.5, 2.5)
            assert rest - place[2] == pytest.approx(0.0, abs=0.6 * MICRON)
            flat = half_thickness(made, at, "A")
            assert lowest_clear(flat, away.ravel(), 2.5, 2.5) <= place[2] + 0.6 * MICRON


def test_the_effective_radius_is_that_of_the_torus():
    """29 mm for R 3, r 0.5 at 5 degrees."""
    cutter = propose_cutter(1, "bull-nose", 6.0, corner=0.5)
    assert effective_radius(cutter, math.radians(5)) == pytest.approx(29.18, abs=0.01)
    assert effective_radius(propose_cutter(1, "ball", 6.0), math.radians(5)) == 3.0


def test_walk_makes_the_motions_that_follow_makes():
    heights = [(10.0, 2.0), (12.0, 1.0), (95.0, 1.0)]
    made = along_track(BELLY, heights, 300.0)
    other = follow(
        BELLY, 10.0, 95.0, Heights.through(heights), lambda bend, slope: np.full(len(bend), 300.0)
    )
    assert made.start == pytest.approx(other.start, abs=1e-9)
    assert made.stop == pytest.approx(other.stop, abs=1e-9)
    assert made.turns == pytest.approx(other.turns, abs=1e-12)


@pytest.mark.parametrize(
    ("corner", "step", "angle_deg", "cusp"),
    [
        (0.5, 0.3, 45.0, 0.047231), (0.5, 0.05, 5.0, 0.000630), (0.5, 0.2, 5.0, 0.007906),
        (0.5, 0.3, 10.0, 0.020823), (0.1, 0.3, 30.0, 0.113397),
    ],
)  # fmt: skip
def test_cusps_of_the_three_regimes(corner, step, angle_deg, cusp):
    """Each regime's worked figure, found by a brute-force envelope (derived)."""
    angle = math.radians(angle_deg)
    assert cusp_of(angle, corner, 3.0, step) == pytest.approx(cusp, abs=1e-6)
    assert step_for(angle, corner, 3.0, cusp_of(angle, corner, 3.0, step)) == pytest.approx(
        step, rel=1e-6
    )
