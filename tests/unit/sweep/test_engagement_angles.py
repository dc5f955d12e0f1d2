"""Where teeth enter and leave, against closed forms worked by hand.

Plate 2 mm (z -1 to 1) of 20 x 20 mm, cutter of radius 3, unless said otherwise.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from knifecam.curve import ARC, FEED, Motions
from knifecam.sweep import cutter_contact
from knifecam.sweep.columns import cut_grid, plate_grid
from knifecam.sweep.contact_record import EarlierCuts, contact_of_steps
from knifecam.sweep.cutter_profile import cutter_profiles
from knifecam.sweep.side_frames import Frame
from knifecam.sweep.sweep_steps import steps_of

FRAME = Frame(side="A", signs=(1.0, 1.0, 1.0), datum=(0.0, 0.0), zero=0.0)
R = 3.0
DEGREE = np.pi / 180
QUARTER = np.pi / 2


def line(start, stop):
    return (FEED, start, stop, (0.0, 0.0), 0.0)


def looked(*rows, radius=R, corner=0.0, cell=0.05, size=20.0, beyond=None, **cone):
    """The steps of motions in a fresh plate, and what the rim of each meets."""
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    motions = Motions(
        np.array(kind, np.uint8), np.array(start, float), np.array(stop, float),
        np.array(centre, float), np.array(turns, float), np.full(len(rows), 100.0),
    )  # fmt: skip
    grid = plate_grid((0, 0, size, size), 2.0, cell)
    record = cut_grid(grid, motions, radius, corner, side="A", flip="X", first=0, **cone).engagement
    steps = steps_of(motions, record, FRAME)
    taken = [
        EarlierCuts(motions, cutter_profiles(len(rows), radius, corner, **cone)),
        *(beyond or ()),
    ]
    plate = np.array([0, size, 0, size, -1.0, 1.0])
    chosen = np.arange(len(record))
    return record, contact_of_steps(steps, taken, plate, chosen)


def half_plane(ae, heading, cell):
    """Rows of a pass with ``ae`` of metal on its left, what the rim meets and what the grid saw."""
    way = np.array([np.cos(heading), np.sin(heading)])
    left = np.array([-way[1], way[0]])
    middle = np.array([10.0, 10.0]) + 0.0173 * way
    rows = [
        line((*(middle - 7 * way + off * left), 0.0), (*(middle + 7 * way + off * left), 0.0))
        for off in (0.0, ae)
    ]
    record, found = looked(*rows, cell=cell)
    inner = np.flatnonzero(record.motion == 1)[3:-3]
    return record, found, inner


@pytest.mark.parametrize("ae", [0.1, 0.3, 1.0, 3.0])
def test_a_half_plane_in_36_headings(ae):
    """``acos(1 - ae / R)`` to 0.002 degrees, where 1.5 are asked for."""
    true = np.arccos(1 - ae / R)
    for heading in np.arange(36) * 10 * DEGREE:
        _, found, inner = half_plane(ae, heading, 0.1)
        assert found[inner, cutter_contact.HIGH] == pytest.approx(QUARTER)
        assert found[inner, cutter_contact.LOW] == pytest.approx(QUARTER - true, abs=0.002 * DEGREE)
        assert found[inner, cutter_contact.RADIAL] == pytest.approx(ae, abs=1e-4)
        assert found[inner, cutter_contact.AXIAL] == pytest.approx(1.0)
        chip = np.sin(true) if ae < R else 1.0
        assert found[inner, cutter_contact.CHIP] == pytest.approx(chip, abs=2e-3)


def test_the_grid_alone_comes_nearer_with_its_cells():
    """Its ``width``: 1.9 degrees rms at 0.1 mm, 1.0 at 0.05, 0.5 at 0.02."""
    rms = []
    for cell, headings in ((0.1, 36), (0.05, 36), (0.02, 9)):
        error = []
        for heading in np.arange(headings) * 360 / headings * DEGREE:
            for ae in (0.1, 1.0):
                record, _, inner = half_plane(ae, heading, cell)
                error.append(record.width[inner] - np.arccos(1 - ae / R))
        rms.append(np.sqrt(np.mean(np.concatenate(error) ** 2)) / DEGREE)
    assert rms[1] < 1.5
    assert rms[0] > 1.5 * rms[1] > 2.25 * rms[2]


@pytest.mark.parametrize("ae", [0.005, 0.02, 0.06])
def test_light_cuts_do_not_depend_on_cells(ae):
    """Thinner than a cell: within 0.002 degrees and 1e-4 mm all the same."""
    for heading in (0.0, 0.3, QUARTER):
        _, found, inner = half_plane(ae, heading, 0.1)
        true = np.arccos(1 - ae / R)
        assert QUARTER - found[inner, cutter_contact.LOW] == pytest.approx(true, abs=0.002 * DEGREE)
        assert found[inner, cutter_contact.RADIAL] == pytest.approx(ae, abs=1e-4)


def test_a_wall_within_a_micron_is_not_met_again():
    for off in (0.0, 5e-4, -5e-4):
        _, found, inner = half_plane(off, 0.7, 0.1)
        assert not found[inner].any()


def test_a_slot_is_met_from_wall_to_wall():
    record, found = looked(line((-4, 10, 0), (16, 10, 0)))
    inside = (record.place[:, 0] > 1) & (record.place[:, 0] < 16)
    assert found[inside, cutter_contact.HIGH] == pytest.approx(QUARTER)
    assert found[inside, cutter_contact.LOW] == pytest.approx(-QUARTER)
    assert found[inside, cutter_contact.RADIAL] == pytest.approx(2 * R)
    assert np.all(found[inside, cutter_contact.FOUND_GAP] == 0.0)


def test_both_walls_of_a_trench_and_nothing_between():
    """A trench of radius 2.9 widened on either side by 0.1: metal from both walls, none ahead."""
    record, found = looked(
        line((-4, 10, 0), (24, 10, 0)),
        line((24, 10.0, 0), (-4, 10.0, 0)),
        radius=np.array([2.9, R]),
    )
    inner = np.flatnonzero((record.motion == 1) & (abs(record.place[:, 0] - 10) < 8))
    angle = np.arccos(2.9 / 3.0)
    assert found[inner, cutter_contact.RADIAL] == pytest.approx(2 * R)
    met = (
        found[inner, cutter_contact.HIGH]
        - found[inner, cutter_contact.LOW]
        - found[inner, cutter_contact.FOUND_GAP]
    )
    step = np.pi / (
        cutter_contact.DIRECTIONS - 1
    )  # what lies between is known to so much on either side
    assert met == pytest.approx(2 * angle, abs=2 * step)
    assert np.all(found[inner, cutter_contact.FOUND_GAP] > 0.0)


def test_engagement_grows_into_a_corner():
    """A finishing pass 0.2 beside a rough one that turned left at (10, 10).

    The rough pass left an inner corner of radius R about (10, 10). Where the rim leaves the wall
    before x = 10, the angle is that along a wall; past that, two circles of radius R whose centres
    are d apart cross at acos(d / 2R) from the line of centres, up to y = 10; past that it leaves the
    wall x = 10 + R. The 21 degrees along the wall grow to 110.
    """
    ae = 0.2
    ends = np.linspace(8.0, 10 + ae, 41)  # short pieces up to the corner, for steps close to it
    rows = [line((4, 10, 0), (10, 10, 0)), line((10, 10, 0), (10, 16, 0))]
    rows += [line((4, 10 - ae, 0), (8, 10 - ae, 0))]
    rows += [line((a, 10 - ae, 0), (b, 10 - ae, 0)) for a, b in pairwise(ends)]
    record, found = looked(*rows, cell=0.1)
    along = np.arccos(1 - ae / R)
    for k in np.flatnonzero(record.motion > 2):
        x = record.place[k, 0]
        end = along - QUARTER
        if x + R * np.sin(along) > 10.0:
            apart, towards = np.hypot(10.0 - x, ae), np.arctan2(ae, 10.0 - x)
            end = towards - np.arccos(apart / (2 * R))
            if R * np.sin(end) > ae:
                end = np.arccos((10.0 + R - x) / R)
        assert found[k, cutter_contact.LOW] == pytest.approx(-QUARTER)
        assert found[k, cutter_contact.HIGH] == pytest.approx(end, abs=0.002 * DEGREE), x
    assert found[-1, cutter_contact.HIGH] + QUARTER > 108 * DEGREE


@pytest.mark.parametrize("turns", [3.0, -3.0])
def test_a_helix_in_a_bore_meets_its_pitch(turns):
    """Bore 8, cutter 5, pitch 0.1: all of the leading rim, the pitch at the wall, less inward.

    A place of the rim seen at the angle b from the axis' own, both from the bore's centre, was
    passed one turn less 2 b ago: ``p (1 - b / pi)`` stands there.
    """
    radius, pitch, path = 2.5, 0.1, 1.5
    helix = (ARC, (10 + path, 10, 1.0), (10 + path, 10, 1.0 - 3 * pitch), (10.0, 10.0), turns)
    record, found = looked(helix, radius=radius)
    late = np.flatnonzero(record.place[:, 2] < 1.0 - 1.5 * pitch)
    # inward the metal ends where it is thinner than a grain, within a degree
    assert np.abs(found[late, cutter_contact.HIGH]) == pytest.approx(QUARTER, abs=DEGREE)
    assert np.abs(found[late, cutter_contact.LOW]) == pytest.approx(QUARTER, abs=DEGREE)
    assert found[late, cutter_contact.AXIAL] == pytest.approx(pitch, rel=0.02)
    assert found[late, cutter_contact.AXIAL].max() <= pitch
    fall = np.arctan2(pitch, 2 * np.pi * path)
    assert found[late, cutter_contact.CHIP] == pytest.approx(np.cos(fall), rel=2e-3)


def test_a_circle_in_a_bore():
    """The rim meets metal from where it lies the wall's distance from the centre, outward."""
    rows = [(ARC, (10 + p, 10, 0), (10 + p, 10, 0), (10.0, 10.0), 1.0) for p in (0.5, 1.5, 1.7)]
    record, found = looked(*rows, radius=2.5)
    late = np.flatnonzero(record.motion == 2)[1:-1]
    wall, path = 4.0, 1.7
    end = np.arcsin((2.5**2 + path**2 - wall**2) / (2 * 2.5 * path))
    assert found[late, cutter_contact.LOW] == pytest.approx(-QUARTER)
    assert found[late, cutter_contact.HIGH] == pytest.approx(end, abs=0.002 * DEGREE)


@pytest.mark.parametrize(("corner", "depth"), [(R, 0.1), (R, 0.5), (1.0, 0.1), (0.5, 0.3)])
def test_the_corner_of_a_ball_or_bull_nose_in_a_slot(corner, depth):
    """As wide as the cutter is at the depth; the chip is thinned by the slope of the edge there."""
    tip = 1.0 - depth
    record, found = looked(line((-4, 10, tip), (24, 10, tip)), corner=corner)
    inside = np.abs(record.place[:, 0] - 10) < 7
    wide = R - corner + np.sqrt(corner**2 - (corner - depth) ** 2)
    assert found[inside, cutter_contact.RADIAL] == pytest.approx(2 * wide, rel=1e-3)
    assert found[inside, cutter_contact.AXIAL].max() <= depth + 1e-9
    assert found[inside, cutter_contact.AXIAL] == pytest.approx(depth, rel=0.12)
    steep = np.sqrt(1 - (1 - depth / corner) ** 2)
    assert found[inside, cutter_contact.CHIP] == pytest.approx(steep, rel=3e-3)


def test_a_cone_in_a_slot():
    """Tip 0.5 and 45 degrees, 0.4 deep: 0.9 from the axis; the chip is thinned by cos 45."""
    record, found = looked(
        line((-4, 10, 0.6), (24, 10, 0.6)), radius=2.0, tip=0.5, half_angle=np.pi / 4
    )
    inside = np.abs(record.place[:, 0] - 10) < 7
    assert found[inside, cutter_contact.RADIAL] == pytest.approx(1.8, rel=1e-3)
    assert found[inside, cutter_contact.CHIP] == pytest.approx(np.cos(np.pi / 4), rel=3e-3)


def test_a_ramp_meets_what_it_falls_by():
    """5 degrees into solid: the rim ahead meets all that stands over the tip; chips fall with it."""
    fall = 5 * DEGREE
    record, found = looked(line((2, 10, 1.0), (12, 10, 1.0 - 10 * np.tan(fall))))
    assert found[:, cutter_contact.AXIAL] == pytest.approx(1.0 - record.place[:, 2])
    assert found[:, cutter_contact.CHIP] == pytest.approx(np.cos(fall), rel=2e-3)


def test_a_web_over_the_other_sides_trench():
    """The other side has a trench to 0.4 below this face; this side cuts through the web."""
    under = Motions(
        np.array([FEED], np.uint8), np.array([[-4.0, 10.0, -0.4]]), np.array([[24.0, 10.0, -0.4]]),
        np.zeros((1, 2)), np.zeros(1), np.full(1, 100.0),
    )  # fmt: skip
    beyond = [EarlierCuts(under, cutter_profiles(1, R, 0.0), beyond=True)]
    record, found = looked(line((-4, 10, 0.1), (24, 10, 0.1)), beyond=beyond)
    inside = np.abs(record.place[:, 0] - 10) < 7
    assert found[inside, cutter_contact.AXIAL] == pytest.approx(
        0.6
    )  # from 0.4, over the void, to 1
    assert found[inside, cutter_contact.RADIAL] == pytest.approx(2 * R)
