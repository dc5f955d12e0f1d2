"""Bevels that go on past the heel: how far is known by hand for outlines of straight lines."""

from __future__ import annotations

import math

import pytest

from knifecam.blade import Bevel, Blade, Plunge
from knifecam.blade.refusals import refused
from knifecam.blade.running_over import overrun
from knifecam.curve import Curve, Stretch, polyline, station_of


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
    outline = polyline(corners)
    start, end = station_of(outline, ends)
    bevel = Bevel(
        name="V", edge=Stretch(start=float(start), end=float(end)), angle=math.atan(1.3 / 10),
        land=0.4, plunges=tuple(Plunge(line=line, radius=6.0) for line in lines),
    )  # fmt: skip
    return Blade(outline=outline, thickness=3.0, bevels=(bevel,))


@pytest.mark.parametrize("turned", [False, True])
def test_a_handle_under_the_grind_line_is_refused_and_its_stretch_named(turned):
    blade = knife(5.0, turned=turned)
    assert overrun(blade.bevels[0], blade) == pytest.approx(80.0, abs=0.3)
    (line,) = refused(blade)
    assert "goes on 80.0 mm past the edge's heel" in line
    assert "80.0, 9.8)" in line  # up the butt, to just under the grind line
    assert "end it by a plunge" in line


def test_a_handle_above_the_grind_line_is_not_ground():
    blade = knife(10.5)
    assert overrun(blade.bevels[0], blade) == pytest.approx(0.0, abs=0.3)
    assert refused(blade) == ()


@pytest.mark.parametrize(("heel", "over"), [(4.0, 3.33), (9.0, 7.5)])
def test_a_leaning_heel_is_ground_up_to_the_grind_line(heel, over):
    """The heel leans by ``heel`` over 12 mm; at the grind line, 10 mm high, by 10/12 of it."""
    blade = knife(12.0, heel)
    assert overrun(blade.bevels[0], blade) == pytest.approx(over, abs=0.3)
    assert bool(refused(blade)) == (over > 5.0)


def test_a_plunge_across_ends_the_bevel_and_one_along_it_does_not():
    across = polyline([(6, -30), (6, 40)], closed=False)
    assert refused(knife(5.0, 0.0, across)) == ()
    along = polyline([(-20, 40), (20, -8)], closed=False)
    flat = polyline([(-100, 30), (20, -2)], closed=False)
    assert not any("degrees" in line for line in refused(knife(5.0, 0.0, along)))
    assert any("meets the edge at 14.9 degrees" in line for line in refused(knife(5.0, 0.0, flat)))
