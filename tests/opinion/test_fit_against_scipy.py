"""Biarcs of ellipses and splines against scipy: lengths by quadrature, places by BSpline."""

from __future__ import annotations

import math

import ezdxf
import numba
import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from scipy.interpolate import BSpline, make_interp_spline

from knifecam.curve import Curve, resample
from knifecam.curve.biarcs import Spline, fit_biarcs, look_along, uniform_knots
from knifecam.drawing import read_drawing

MICRON = 1e-3
SHORTEST = 0.002


def both_ways(wanted, curve):
    """Return how far (mm) dense points of the wanted curve lie off the arcs, and the reverse.

    Measured by shapely, to chords within 0.02 um of the arcs.
    """
    chords = curve.points(2e-5)
    chords = np.concatenate([chords, chords[:1]]) if curve.closed else chords
    return max(_off(wanted, chords), _off(resample(curve, 0.02)[1], wanted))


def _off(points, line):
    chords = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    tree = shapely.STRtree(chords)
    _, apart = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return float(apart.max())


def saved(tmp_path, draw):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    draw(document.modelspace())
    path = tmp_path / "curve.dxf"
    document.saveas(path)
    (chain,) = read_drawing(path).chains
    return chain.curve


@pytest.mark.parametrize(
    ("a", "b", "low", "high"),
    [
        (50, 25, 0, 2 * math.pi),
        (110, 16, 0, 2 * math.pi),
        (30, 29.5, 0, 2 * math.pi),
        (8, 3, 0.4, 4.0),
        (200, 20, 5.5, 7.5),
    ],
)
def test_ellipse(tmp_path, a, b, low, high):
    curve = saved(tmp_path, lambda s: s.add_ellipse((0, 0), (a, 0), b / a, low, high))
    length, _ = quad(lambda t: math.hypot(a * math.sin(t), b * math.cos(t)), low, high, limit=400)
    t = np.linspace(low, high, 60001)
    wanted = np.stack([a * np.cos(t), b * np.sin(t)], axis=1)
    assert both_ways(wanted, curve) <= MICRON
    # curves 1 um apart whose headings differ by d have lengths that differ by d^2 / 2 and less
    assert curve.length == pytest.approx(length, abs=2 * MICRON)
    assert curve.lengths.min() >= SHORTEST


SPLINES = {
    "cubic": (3, [(0, 0), (40, 30), (80, -20), (130, 10), (150, 5)], None),
    "quadratic": (2, [(0, 0), (20, 30), (60, 30), (80, 0), (100, 10)], None),
    "quintic": (5, [(0, 0), (10, 30), (40, 40), (80, 0), (100, 10), (120, 30), (150, 0)], None),
    "rational": (3, [(0, 0), (40, 30), (80, -20), (130, 10), (150, 5)], [1, 3, 0.5, 2, 1]),
}


def reference(degree, control, knots, weights):
    """Return the spline by scipy, as a function of the parameter."""
    points = np.array(control, dtype=float)
    if weights is None:
        return BSpline(knots, points, degree)
    w = np.array(weights, dtype=float)
    above, below = BSpline(knots, points * w[:, None], degree), BSpline(knots, w, degree)
    return lambda t: above(t) / below(t)[:, None]


@numba.njit
def look(control, knots, degree, low, high, rows):
    return look_along(control, knots, degree, low, high, rows)


def seen(spline, count):
    """Return parameters, places and slopes at equal steps of the whole spline."""
    rows = np.empty((count, 5))
    look(*spline.values, *spline.span, rows)
    return rows[:, 2], rows[:, :2], rows[:, 3:]


@pytest.mark.parametrize("name", SPLINES)
def test_spline_places_and_slopes(name):
    degree, control, weights = SPLINES[name]
    knots = uniform_knots(len(control), degree)
    theirs = reference(degree, control, knots, weights)
    t, points, slopes = seen(Spline(control, knots, degree, weights), 501)
    assert np.abs(points - theirs(t)).max() < 1e-12
    h = 1e-6
    inner = t[5:-5]
    measured = (theirs(inner + h) - theirs(inner - h)) / (2 * h)
    assert np.abs(slopes[5:-5] - measured).max() < 1e-3


def test_spline_with_knots_that_do_not_start_on_it():
    knots = np.arange(12.0)
    control = np.random.default_rng(5).normal(size=(8, 2)) * 20
    ours = Spline(control, knots, 3)
    t, points, _ = seen(ours, 101)
    assert ours.span == (3.0, 8.0)
    assert np.abs(points - BSpline(knots, control, 3)(t)).max() < 1e-12


@pytest.mark.parametrize("name", SPLINES)
def test_spline_is_followed_within_a_micron(tmp_path, name):
    degree, control, weights = SPLINES[name]
    knots = uniform_knots(len(control), degree)

    def draw(space):
        spline = space.add_spline(degree=degree)
        spline.control_points = [(*p, 0) for p in control]
        spline.knots = list(knots)
        if weights is not None:
            spline.weights = weights

    curve = saved(tmp_path, draw)
    theirs = reference(degree, control, knots, weights)
    t = np.linspace(knots[0], knots[-1], 80001)
    wanted = theirs(t)
    assert both_ways(wanted, curve) <= MICRON
    if weights is None:
        slope = theirs.derivative()
        length, _ = quad(lambda u: float(np.hypot(*slope(u))), knots[0], knots[-1], limit=800)
        assert curve.length == pytest.approx(length, abs=2 * MICRON)
    assert not curve.corners.any()
    assert curve.lengths.min() >= SHORTEST
    assert len(curve) < 320


def test_spline_of_fit_points_is_the_natural_one(tmp_path):
    """Fit points without tangents: second derivatives vanish at the ends, knots by chord."""
    fit = np.array([(0, 0), (20, 12), (55, 3), (90, 14), (110, 0)], dtype=float)
    curve = saved(tmp_path, lambda s: s.add_spline([tuple(p) for p in fit]))
    knots = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(fit, axis=0).T))])
    natural = make_interp_spline(knots, fit, 3, bc_type="natural")
    wanted = natural(np.linspace(0, knots[-1], 40001))
    assert both_ways(wanted, curve) <= MICRON


def sum_of_sines(seed):
    """Return a spline of degree 5 through loops and sharp bends, by scipy, of 401 places."""
    rng = np.random.default_rng(seed)
    k = np.arange(1, 5)
    amplitude = rng.normal(size=(2, 4)) * 12 / k
    phase = rng.uniform(0, 2 * np.pi, size=(2, 4))
    t = np.linspace(0, 2 * np.pi, 401)
    return make_interp_spline(t, (amplitude * np.sin(t[:, None, None] * k + phase)).sum(-1), 5)


@pytest.mark.parametrize("seed", range(12))
def test_random_smooth_curves(seed):
    """No piece too short, tangents continuous, 1 um both ways; refused only where it must be."""
    theirs = sum_of_sines(seed)
    ours = Spline(theirs.c, theirs.t, 5)
    t = np.linspace(*ours.span, 60001)
    slope, bent = theirs.derivative()(t), theirs.derivative(2)(t)
    cross = slope[:, 0] * bent[:, 1] - slope[:, 1] * bent[:, 0]
    tightest = float((np.hypot(*slope.T) ** 3 / np.abs(cross)).min())
    if tightest < MICRON:  # no corner, yet no arcs of 2 um can turn it
        with pytest.raises(ValueError, match="too tightly"):
            fit_biarcs(ours)
        return
    curve = Curve(*fit_biarcs(ours), closed=False)
    assert both_ways(theirs(t), curve) <= MICRON
    assert not curve.corners.any()
    assert curve.lengths.min() >= SHORTEST


def test_what_stands_still_or_is_not_finite_is_refused():
    knots = uniform_knots(4, 3)
    still = Spline(np.zeros((4, 2)), knots, 3)
    with pytest.raises(ValueError, match="no tangent"):
        fit_biarcs(still)
    lost = Spline(np.array([(0, 0), (1, 0), (2, 1), (3, 0)]), knots, 3, [1, 1e308, 1e308, 1])
    with np.errstate(over="ignore"), pytest.raises(ValueError, match=r"finite|no tangent"):
        fit_biarcs(lost)


def test_every_try_is_counted_and_the_count_may_end_the_fit():
    spline = Spline(SPLINES["cubic"][1], uniform_knots(5, 3), 3)
    told = []
    fit_biarcs(spline, tally=told.append)
    pairs = (told[0] + 1) / 2  # halving: one try fewer than twice the stretches that fit
    assert pairs == int(pairs) > 10

    def stop(tries):
        raise ArithmeticError

    with pytest.raises(ArithmeticError):
        fit_biarcs(spline, tally=stop)
    with pytest.raises(ValueError, match="too many arcs"):
        fit_biarcs(spline, most=5, tally=told.append)
    assert told[1] == 11  # the first too many among them
