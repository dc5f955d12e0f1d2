"""Volumes, masses and centres of gravity in closed form."""

import math
from dataclasses import replace

import pytest

from knifecam.blade import Bevel, Blade, Bore, EdgeBreak, Plunge, Slot, Steel
from knifecam.blade.mass import balance_point, weigh
from knifecam.curve import Stretch, circle, polyline, rectangle
from knifecam.curve.crossings import pieces_of, ray_length, row_crossings

PLATE = Blade(outline=rectangle(0, 0, 100, 30), thickness=3.0, steel=Steel(name="O1"))
BEVEL = Bevel(name="V", edge=Stretch(start=0, end=100), angle=math.atan(1.3 / 15), land=0.4)
WITHIN = 1e-4
"""0.01 %: the error `weigh` states."""


def segment(radius, chord):
    """Area between an arc and its chord."""
    turn = 2 * math.asin(chord / 2 / radius)
    return radius**2 / 2 * (turn - math.sin(turn))


def test_a_flat_bevel_takes_a_triangle_from_each_side():
    wedge = weigh(replace(PLATE, bevels=(BEVEL,)))
    assert wedge.volume == pytest.approx(100 * (90 - 15 * 1.3), rel=WITHIN)
    assert wedge.mass == pytest.approx(7050 * 7.8e-3, rel=WITHIN)
    centre_y = (90 * 15 - 2 * (15 * 1.3 / 2) * 5) / 70.5  # triangle's centroid a third up
    assert wedge.centre == pytest.approx((50, centre_y, 0), abs=0.002)


def test_a_hollow_takes_a_segment_more_and_a_convex_bevel_a_segment_less():
    chord = math.hypot(15, 1.3)
    hollow = replace(BEVEL, profile="hollow", wheel=120.0)
    want = 100 * (90 - 15 * 1.3 - 2 * segment(120.0, chord))
    assert weigh(replace(PLATE, bevels=(hollow,))).volume == pytest.approx(want, rel=WITHIN)
    convex = replace(BEVEL, profile="convex", sag=0.2)
    want = 100 * (90 - 15 * 1.3 + 2 * segment(141.78125, chord))
    assert weigh(replace(PLATE, bevels=(convex,))).volume == pytest.approx(want, rel=WITHIN)


def test_a_one_sided_bevel_takes_one_triangle_and_the_centre_moves_to_the_other_side():
    one = weigh(replace(PLATE, bevels=(replace(BEVEL, sides="A", edge_at=-1.3),)))
    assert one.volume == pytest.approx(100 * (90 - 30 * 2.6 / 2), rel=WITHIN)
    # the triangle's centroid lies a third of 2.6 below the face
    assert one.centre[2] == pytest.approx(-39 * (1.5 - 2.6 / 3) / 51, abs=1e-4)


def test_bores_and_slots_take_prisms_and_blind_bores_their_depth():
    pierced = replace(
        PLATE,
        bores=(Bore(name="T", centre=(50, 15), diameter=6.0),
               Bore(name="D", centre=(70, 15), diameter=6.0, depth=1.0)),
        slots=(Slot(name="S", outline=rectangle(10, 10, 20, 12)),),
    )  # fmt: skip
    want = 9000 - 9 * math.pi * 3 - 9 * math.pi * 1 - 20 * 3
    assert weigh(pierced).volume == pytest.approx(want, rel=WITHIN)


def test_openings_that_overlap_count_once_and_only_in_the_blade():
    over = replace(
        PLATE,
        bores=(Bore(name="T", centre=(50, 15), diameter=6.0),
               Bore(name="U", centre=(50, 15), diameter=4.0),
               Bore(name="E", centre=(0, 20), diameter=8.0)),
    )  # fmt: skip
    want = 9000 - 9 * math.pi * 3 - 16 * math.pi / 2 * 3
    assert weigh(over).volume == pytest.approx(want, rel=WITHIN)


def test_an_edge_break_takes_a_prism_with_mitres():
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.5)
    # all round: sum over depth t of the perimeter at t inside: 260 - 8 t, times the fall 0.5 - t
    want = 9000 - (260 * 0.125 - 8 * 0.5**3 / 6)
    taken = 9000 - weigh(replace(PLATE, breaks=(broken,))).volume
    assert taken == pytest.approx(9000 - want, rel=0.01)


def test_a_plunge_keeps_what_its_cylinder_leaves():
    plunge = Plunge(line=polyline([(20, -5), (20, 40)], closed=False), radius=6.0)
    made = weigh(replace(PLATE, bevels=(replace(BEVEL, plunges=(plunge,)),)))
    cos = math.cos(BEVEL.angle)

    def past(up):  # area of waste past the line where the bevel lies `up` below the face
        n = up * cos
        s = math.sqrt(n * (12 - n))
        under = 36 / 2 * math.asin(s / 6) - s / 2 * (6 - n)  # of the circle, above the chord at n
        return under / cos

    steps = 2000
    more = sum(past(1.3 * (k + 0.5) / steps) for k in range(steps)) * 15 / steps
    want = 9000 - 2 * (80 * 15 * 1.3 / 2 + more)
    assert made.volume == pytest.approx(want, rel=WITHIN)


def test_a_blade_balances_where_its_mass_does():
    tee = polyline([(0, 0), (100, 0), (100, 10), (40, 10), (40, 30), (0, 30)])
    blade = replace(PLATE, outline=tee)
    x = (1000 * 50 + 800 * 20) / 1800
    assert weigh(blade).centre[:2] == pytest.approx((x, (1000 * 5 + 800 * 20) / 1800), abs=1e-6)
    assert balance_point(blade, (100.0, 0.0), math.pi) == pytest.approx(100 - x)


def test_nothing_left_is_said():
    with pytest.raises(ValueError, match="no volume"):
        weigh(replace(PLATE, bores=(Bore(name="T", centre=(50, 15), diameter=300.0),)))


def test_rows_cross_lines_and_arcs():
    loops = pieces_of([circle((10, 5), 8.0), rectangle(0, 0, 30, 10)])
    x, loop = row_crossings(loops, 7.0)
    half = math.sqrt(16 - 4)
    assert x == pytest.approx([0, 10 - half, 10 + half, 30])
    assert list(loop) == [1, 0, 0, 1]
    assert row_crossings(loops, 9.5)[0] == pytest.approx([0, 30])
    bulged = polyline(
        [(0, 0), (10, 0), (10, 4), (0, 4)], bulges=[0, 1, 0, 0]
    )  # half a turn of 2 mm
    assert row_crossings(pieces_of([bulged]), 3.0)[0] == pytest.approx([0, 10 + math.sqrt(3)])
    rise = polyline([(0, 0), (10, 0), (10, 4), (0, 4)], bulges=[0.5, 0, 0, 0])  # sagitta 2.5
    x, _ = row_crossings(pieces_of([rise]), -1.25)
    radius = 10 * 1.25 / 2
    assert x == pytest.approx([5 - math.sqrt(radius**2 - 5**2), 5 + math.sqrt(radius**2 - 5**2)])


def test_a_ray_ends_at_the_first_wall():
    assert ray_length(rectangle(0, 0, 100, 30), (50.0, 0.0), math.pi / 2) == pytest.approx(30)
    assert ray_length(rectangle(0, 0, 100, 30), (50.0, 10.0), math.pi / 4) == pytest.approx(
        20 * math.sqrt(2)
    )
    assert ray_length(circle((0, 0), 10.0), (0.0, 20.0), 0.0) == math.inf
