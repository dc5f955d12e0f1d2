"""Bevels that go on past the heel: how far is known by hand for outlines of straight lines."""

from __future__ import annotations

import math

import pytest

from knifecam.blade import Bevel, Blade, Plunge
from knifecam.blade.heel_overrun import runs_over
from knifecam.curve import Curve, Stretch, polyline, station_of
from knifecam.quantity import told
from knifecam.rules.bevel_rules import refused


def knife(handle_low: float, heel: float = 0.0, *lines: Curve, turned: bool = False) -> Blade:
    """Return a blade of 60 mm before a handle of 80 mm, whose lower side lies at ``handle_low`` mm.

    The bevel is 10 mm wide; its edge begins at the corner (0, 0), the handle at x = -``heel``.
    ``turned`` mirrors it, so that the outline's travel comes to the heel last.
    """
    corners = [(0, 0), (60, 0), (50, 25), (-80, 25), (-80, handle_low), (-heel, handle_low)]
    ends = [(0.0, 0.0), (60.0, 0.0)]
    if turned:
        corners = [(-x, y) for x, y in reversed(corners)]
        ends = [(-x, y) for x, y in reversed(ends)]
    return with_edge(corners, *ends, *lines)


def with_edge(
    corners: list[tuple[float, float]], first: tuple[float, float], last: tuple[float, float],
    *lines: Curve, high: float = 10.0,
) -> Blade:  # fmt: skip
    """Return a polygon whose bevel, ``high`` mm wide, lies between two of its places."""
    outline = polyline(corners)
    start, end = station_of(outline, [first, last])
    bevel = Bevel(
        name="V", edge=Stretch(start=float(start), end=float(end)), angle=math.atan(1.3 / high),
        land=0.4, plunges=tuple(Plunge(line=line, radius=6.0) for line in lines),
    )  # fmt: skip
    return Blade(outline=outline, thickness=3.0, bevels=(bevel,))


def overrun(blade: Blade) -> float:
    """Return how far past its heel the first bevel grinds the outline, mm."""
    return max((run.past for run in runs_over(blade.bevels[0], blade)), default=0.0)


def strip(skew: float, high: float = 10.0, first: float = 0.0) -> Blade:
    """Return a strip of 20 x 120 mm ended by an edge at ``skew`` degrees to its sides.

    The edge begins at the corner (0, 0), or ``first`` mm further, and rises to the strip's other
    side, far enough for a bevel ``high`` mm wide.
    """
    a = math.radians(skew)
    end = (20 / math.tan(a), 20.0)
    begin = (first * math.cos(a), first * math.sin(a))
    corners = [(0.0, 0.0), end, (-120.0, 20.0), (-120.0, 0.0)]
    return with_edge(corners, begin, end, high=high)


@pytest.mark.parametrize("turned", [False, True])
def test_a_handle_under_the_grind_line_is_refused_and_its_stretch_named(turned):
    blade = knife(5.0, turned=turned)
    assert overrun(blade) == pytest.approx(80.0, abs=0.3)
    (line,) = map(told, refused(blade))
    assert "goes on 80.0 mm past the edge's heel" in line
    assert "80.0, 9.8)" in line  # up the butt, to just under the grind line
    assert "end it by a plunge" in line


def test_a_handle_above_the_grind_line_is_not_ground():
    blade = knife(10.5)
    assert overrun(blade) == pytest.approx(0.0, abs=0.3)
    assert refused(blade) == ()


@pytest.mark.parametrize(("heel", "over"), [(4.0, 3.33), (9.0, 7.5), (28.0, 23.33), (36.0, 30.0)])
def test_a_leaning_heel_is_ground_up_to_the_grind_line(heel, over):
    """The heel leans by ``heel`` over 12 mm; at the grind line, 10 mm high, by 10/12 of it.

    12 mm over 28 mm are 23.2 degrees, over 36 mm 18.4: only that runs along the edge.
    """
    blade = knife(12.0, heel)
    assert overrun(blade) == pytest.approx(over, abs=0.7)
    assert bool(refused(blade)) == (heel > 30.0)


@pytest.mark.parametrize("skew", [21.0, 30.0, 41.0, 60.0, 80.0])
def test_a_skewed_edge_s_bevel_runs_out_over_the_strip_s_side(skew):
    """Its grind line, 6 mm from the edge, meets the side 6 / tan(skew) past the heel."""
    blade = strip(skew, 6.0)
    (run,) = runs_over(blade.bevels[0], blade)
    assert run.past == pytest.approx(6.0 / math.tan(math.radians(skew)), abs=0.3)
    assert run.along <= 0.5
    assert run.again is None
    assert refused(blade) == ()
    assert run.places[-1] == pytest.approx((-6.0 / math.sin(math.radians(skew)), 0.0), abs=0.3)


def test_a_side_that_leaves_the_edge_at_18_degrees_is_refused():
    """The bevel, 5 mm wide, leaves it 5 / tan 18 = 15.4 mm past the heel."""
    blade = strip(18.0, 5.0)
    (run,) = runs_over(blade.bevels[0], blade)
    assert run.along == pytest.approx(15.39, abs=0.6)
    (line,) = map(told, refused(blade))
    assert "mm of it within 20 degrees of the edge's own line; at most 5 mm may be" in line


def test_an_edge_ordered_too_short_is_told_how_far_it_may_go_on():
    """Its own line goes on for 12 mm to the corner; there the side turns away by 50 degrees."""
    blade = strip(50.0, 6.0, first=12.0)
    (run,) = runs_over(blade.bevels[0], blade)
    assert run.along == pytest.approx(12.0, abs=0.3)
    (line,) = map(told, refused(blade))
    assert "or let the edge go on to (0.0, 0.0), as far as the outline is straight" in line
    assert refused(strip(50.0, 6.0, first=0.0)) == ()


def test_an_edge_is_not_told_to_go_on_where_that_would_not_end_its_bevel():
    """After 4 mm more of edge a choil of 4 x 6 mm and a handle below the grind line follow."""
    corners = [(0, 0), (60, 0), (50, 25), (-80, 25), (-80, 5), (-10, 5), (-10, 4), (-4, 4), (-4, 0)]
    (line,) = map(told, refused(with_edge(corners, (0.0, 0.0), (60.0, 0.0))))
    assert line.endswith(
        "end it by a plunge across the bevel, or raise the handle above the grind line"
    )


@pytest.mark.parametrize(("along", "ok"), [(4.5, True), (6.0, False)])
def test_a_step_under_the_grind_line_may_be_5_mm_long(along, ok):
    """Up 9 mm at the heel, along the edge, and up again over the grind line at 10 mm."""
    corners = [(0, 0), (60, 0), (50, 25), (-80, 25), (-80, 12), (-along, 12), (-along, 9), (0, 9)]
    blade = with_edge(corners, (0.0, 0.0), (60.0, 0.0))
    assert (refused(blade) == ()) is ok


def test_a_butt_that_comes_down_again_below_the_grind_line_is_refused():
    corners = [(0, 0), (60, 0), (50, 25), (-80, 25), (-80, 7), (-74, 7), (-70, 12), (0, 12)]
    blade = with_edge(corners, (0.0, 0.0), (60.0, 0.0))
    (run,) = runs_over(blade.bevels[0], blade)
    assert run.again == pytest.approx((-71.6, 10.0), abs=0.2)
    (line,) = map(told, refused(blade))
    assert "again after its grind line has left the blade" in line


def test_a_draw_knife_s_bevel_runs_on_along_both_of_its_tangs():
    """Each tang wants a plunge of its own; the first ends the bevel at one end alone."""
    corners = [(-50, 0), (50, 0), (50, 5), (110, 5), (110, 20), (-110, 20), (-110, 5), (-50, 5)]
    left, right = (polyline([(x, y), (x, 30 - y)], closed=False) for x, y in ((-40, 0), (40, 30)))
    bare = with_edge(corners, (-50.0, 0.0), (50.0, 0.0))
    ended = with_edge(corners, (-50.0, 0.0), (50.0, 0.0), left)
    assert sum("goes on 60.0 mm past" in line for line in map(told, refused(bare))) == 2
    assert sum("goes on 60.0 mm past" in line for line in map(told, refused(ended))) == 1
    assert refused(with_edge(corners, (-50.0, 0.0), (50.0, 0.0), left, right)) == ()


def test_a_plunge_across_ends_the_bevel_and_one_along_it_does_not():
    across = polyline([(6, -30), (6, 40)], closed=False)
    assert refused(knife(5.0, 0.0, across)) == ()
    along = polyline([(-20, 40), (20, -8)], closed=False)
    flat = polyline([(-100, 30), (20, -2)], closed=False)
    assert not any("meets the edge" in line for line in refused(knife(5.0, 0.0, along)))
    assert any("meets the edge at 14.9 degrees" in line for line in refused(knife(5.0, 0.0, flat)))
