"""Laws of cutting: order does not matter, nothing is lost, mirrors mirror."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from knifecam.curve import ARC, FEED, Motions
from knifecam.sweep.columns import cut_grid, plate_grid

CELL = 0.17
BOX = (-3.0, -2.0, 3.0, 2.0)
LAW = settings(max_examples=40, derandomize=True, deadline=None)

coordinate = st.floats(-3.0, 3.0).map(lambda v: round(v, 4))
height = st.floats(-1.3, 1.3).map(lambda v: round(v, 3))


@st.composite
def motion(draw):
    """(kind, start, stop, centre, turns): a line or plunge, or an arc or helix of any turns."""
    start = np.array([draw(coordinate), draw(coordinate), draw(height)])
    z = draw(st.one_of(st.just(start[2]), height))
    if draw(st.booleans()):
        plane = start[:2] if draw(st.integers(0, 4)) == 0 else [draw(coordinate), draw(coordinate)]
        return FEED, start, np.array([*plane, z]), np.zeros(2), 0.0
    centre = np.array([draw(coordinate), draw(coordinate)])
    turns = draw(st.sampled_from([-1.0, 1.0, 0.3, -0.6, 1.7, 0.001]))
    angle = 2 * np.pi * turns
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return ARC, start, np.array([*(centre + turn @ (start[:2] - centre)), z]), centre, turns


cutter = st.tuples(st.floats(0.2, 1.5), st.sampled_from([0.0, 0.2, 1.0])).map(
    lambda v: (v[0], v[0] * v[1])
)
cuts = st.lists(st.tuples(motion(), cutter, st.sampled_from("AB")), min_size=1, max_size=6)


def record(rows, signs=(1.0, 1.0)):
    """Motions of rows, mirrored where a sign is negative."""
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    plane, solid = np.array(signs), np.array([*signs, 1.0])
    return Motions(
        np.array(kind, np.uint8), np.array(start) * solid, np.array(stop) * solid,
        np.array(centre) * plane, np.array(turns) * plane.prod(), np.zeros(len(rows)),
    )  # fmt: skip


def cut_one(grid, cut, first, signs=(1.0, 1.0), flip="X"):
    row, (radius, corner), side = cut
    return cut_grid(grid, record([row], signs), radius, corner, side=side, flip=flip, first=first)


def same(a, b):
    return np.allclose(a, b, rtol=0.0, atol=1e-11)


@LAW
@given(cuts, st.randoms(use_true_random=False))
def test_the_order_of_cuts_does_not_change_the_plate(listed, random):
    one, two = plate_grid(BOX, 2.0, CELL), plate_grid(BOX, 2.0, CELL)
    for cut in listed:
        cut_one(one, cut, 0)
    random.shuffle(listed)
    for cut in listed:
        cut_one(two, cut, 0)
    thick = one.top - one.bottom
    assert same(thick, two.top - two.bottom)
    whole = thick > 1e-9
    assert same(one.top[whole], two.top[whole])
    assert np.array_equal(one.emptied >= 0, two.emptied >= 0)


@LAW
@given(cuts)
def test_what_each_motion_takes_off_is_what_the_plate_loses(listed):
    grid = plate_grid(BOX, 2.0, CELL)
    for cut in listed:
        before = grid.volume
        swept = cut_one(grid, cut, 0)
        assert swept.volume.shape == (1,)
        assert same(swept.volume.sum(), before - grid.volume)
        assert same(swept.engagement.volume.sum(), before - grid.volume)
        assert same(swept.engagement.length.sum(), record([cut[0]]).lengths.sum())
        assert np.all(grid.top >= grid.bottom)


@LAW
@given(cuts)
def test_a_second_time_takes_nothing_off(listed):
    grid = plate_grid(BOX, 2.0, CELL)
    for cut in listed:
        cut_one(grid, cut, 0)
        again = cut_one(grid, cut, 1)
        assert same(again.volume, 0.0)
        assert same(again.engagement.under, 0.0)
    assert not (grid.emptied == 1).any()


@LAW
@given(cuts, st.sampled_from([(1.0, -1.0), (-1.0, 1.0)]))
def test_a_mirrored_program_gives_the_mirrored_plate(listed, signs):
    one, two = plate_grid(BOX, 2.0, CELL), plate_grid(BOX, 2.0, CELL)
    # cells that lie as the plate's own mirror image do
    one.x0 = two.x0 = -CELL * (one.top.shape[1] - 1) / 2
    one.y0 = two.y0 = -CELL * (one.top.shape[0] - 1) / 2
    across = (slice(None), slice(None, None, -1)) if signs[0] < 0 else (slice(None, None, -1),)
    for first, cut in enumerate(listed):
        swept = cut_one(one, cut, first)
        mirrored = cut_one(two, cut, first, signs)
        assert same(swept.volume, mirrored.volume)
        assert same(swept.engagement.left, mirrored.engagement.right)
        assert same(swept.engagement.front, mirrored.engagement.front)
        assert same(swept.engagement.width, mirrored.engagement.width)
    assert same(one.top[across], two.top)
    assert same(one.bottom[across], two.bottom)
    assert np.array_equal(one.emptied[across], two.emptied)


@LAW
@given(cuts, st.sampled_from(["X", "Y"]))
def test_side_b_cuts_what_side_a_would_if_the_plate_were_turned(listed, flip):
    """Half a turn about the flip axis swaps the faces; the same text then cuts the same metal."""
    one, two = plate_grid(BOX, 2.0, CELL), plate_grid(BOX, 2.0, CELL)
    one.x0 = two.x0 = -CELL * (one.top.shape[1] - 1) / 2
    one.y0 = two.y0 = -CELL * (one.top.shape[0] - 1) / 2
    turned = (slice(None, None, -1),) if flip == "X" else (slice(None), slice(None, None, -1))
    other = {"A": "B", "B": "A"}
    for first, (row, tool, side) in enumerate(listed):
        swept = cut_one(one, (row, tool, side), first, flip=flip)
        again = cut_one(two, (row, tool, other[side]), first, flip=flip)
        assert same(swept.volume, again.volume)
        for name in ("left", "front", "right", "width", "under", "place"):
            assert same(getattr(swept.engagement, name), getattr(again.engagement, name)), name
    assert same(one.top[turned], -two.bottom)
    assert same(one.bottom[turned], -two.top)
    assert np.array_equal(one.emptied[turned], two.emptied)
