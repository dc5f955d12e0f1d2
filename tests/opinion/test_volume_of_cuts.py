"""Removed volume against solids swept and united by manifold3d.

The sweep of a convex cutter along a line is the convex hull of its two end positions; arcs and
helices are followed in chords. The solids' facets are what limits the agreement. Circles have 120
facets and the radius that gives them their true area: across a straight slot their width is
between 0.99998 and 1.0002 of the true one. A corner has 28 facets a quarter, moved out to its true
area; chords stand off their arc by up to 2 um, as far outside as inside. Together they move a
volume by less than 0.04 %; the wanted agreement is 0.1 %.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold, OpType

from knifecam.curve import ARC, FEED, Motions
from knifecam.sweep.columns import cut_grid, plate_grid

FACETS = 120
CORNER_FACETS = 28
CHORD = 2.5e-3
CELL = 0.01
BOX = (-1.5, -1.5, 6.5, 4.5)
THICKNESS = 3.0
TALL = 9.0


def cutter_points(radius, corner, cone):
    """Points whose hull is the cutter, tip at the origin; a cone is (tip's radius, half angle)."""
    angle = 2 * np.pi * np.arange(FACETS) / FACETS
    true_area = np.sqrt(2 * np.pi / FACETS / np.sin(2 * np.pi / FACETS))
    ring = true_area * np.column_stack([np.cos(angle), np.sin(angle)])
    slope = np.linspace(0, np.pi / 2, CORNER_FACETS + 1) if corner else np.array([np.pi / 2])
    out = corner * np.sqrt(slope[-1] / CORNER_FACETS / np.sin(slope[-1] / CORNER_FACETS))
    reach = np.minimum(radius - corner + out * np.sin(slope), radius)
    height = corner - out * np.cos(slope)
    rings = [*zip(reach, height, strict=True), (radius, TALL)]
    if cone is not None:
        tip, half_angle = cone
        rings = [(tip, 0.0), (radius, (radius - tip) / np.tan(half_angle)), (radius, TALL)]
    return np.concatenate([np.column_stack([q * ring, np.full(FACETS, z)]) for q, z in rings])


def chords(row):
    """Tips along a motion between which it is as good as straight."""
    kind, start, stop, centre, turns = row
    start, stop = np.array(start, float), np.array(stop, float)
    if kind == FEED:
        return np.array([start, stop])
    rx, ry = start[:2] - centre
    path, whole = np.hypot(rx, ry), 2 * np.pi * turns
    count = int(np.ceil(abs(whole) / (2 * np.arccos(1 - CHORD / path))))
    t = np.linspace(0, 1, count + 1)
    angle = np.arctan2(ry, rx) + whole * t
    path += 2 / 3 * path * (1 - np.cos(whole / count / 2))  # as far outside as inside
    x, y = centre[0] + path * np.cos(angle), centre[1] + path * np.sin(angle)
    return np.column_stack([x, y, start[2] + (stop[2] - start[2]) * t])


def removed_by_solids(rows, radius, corner, cone=None):
    """Volume that the swept solids share with the plate, mm3."""
    body = cutter_points(radius, corner, cone)
    swept = []
    for row in rows:
        for a, b in pairwise(chords(row)):
            swept.append(Manifold.hull_points(np.concatenate([body + a, body + b])))
    width, depth = BOX[2] - BOX[0], BOX[3] - BOX[1]
    plate = Manifold.cube((width, depth, THICKNESS)).translate((BOX[0], BOX[1], -THICKNESS / 2))
    return (plate ^ Manifold.batch_boolean(swept, OpType.Add)).volume()


def removed_by_columns(rows, radius, corner, cone=None):
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    motions = Motions(
        np.array(kind, np.uint8), np.array(start, float), np.array(stop, float),
        np.array(centre, float), np.array(turns, float), np.zeros(len(rows)),
    )  # fmt: skip
    grid = plate_grid(BOX, THICKNESS, CELL)
    given = {} if cone is None else {"tip": cone[0], "half_angle": cone[1]}
    swept = cut_grid(grid, motions, radius, corner, side="A", flip="X", first=0, **given)
    return swept.volume.sum()


def line(start, stop):
    return (FEED, start, stop, (0.0, 0.0), 0.0)


def arc(start, stop, centre, turns):
    return (ARC, start, stop, centre, turns)


def helix(centre, path, top, pitch, turns, way):
    """Helix down from ``top`` and a full circle at its bottom."""
    start = (centre[0] + path, centre[1], top)
    low = (centre[0] + path * np.cos(2 * np.pi * turns), centre[1], top - pitch * turns)
    return [arc(start, low, centre, way * turns), arc(low, low, centre, way * 1.0)]


SLOT = [line((0, 0, 0.4), (5, 3, 0.4))]
RAMP = [line((0, 0, 1.6), (5, 2, 0.1)), line((5, 2, 0.1), (0, 0, 0.1))]
ZIGZAG = [
    line((0, 0, 2), (0, 0, 1.0)),
    line((0, 0, 1.0), (4, 0.3, 0.7)),
    line((4, 0.3, 0.7), (4, 1.5, 0.7)),
    line((4, 1.5, 0.7), (0.2, 2.2, 0.9)),
]
STEEP = [line((1, 1, 1.0), (1.4, 1.2, -0.6)), line((1.4, 1.2, -0.6), (3, 2, 0.8))]
HALF_TURN = [arc((0, 1, 0.5), (4, 1, 0.5), (2, 1), -0.5)]
RAMPED_ARC = [arc((4, 3, 1.3), (0.5, 0.5, 0.2), (0.81, 3.05), -0.2475)]
BORE = helix((2.5, 1.5), 0.8, 1.7, 0.6, 2, 1)
WIDE_BORE = helix((2.5, 1.5), 1.6, 1.5, 0.9, 1.5, -1)

PROGRAMS = {
    "flat-slot": (SLOT, 0.75, 0.0),
    "flat-ramp": (RAMP, 0.75, 0.0),
    "flat-zigzag": (ZIGZAG, 1.0, 0.0),
    "flat-steep": (STEEP, 0.6, 0.0),
    "flat-half-turn": (HALF_TURN, 0.9, 0.0),
    "flat-bore": (BORE, 1.0, 0.0),
    "ball-slot": (SLOT, 1.0, 1.0),
    "ball-zigzag": (ZIGZAG, 1.5, 1.5),
    "ball-steep": (STEEP, 0.8, 0.8),
    "ball-half-turn": (HALF_TURN, 1.0, 1.0),
    "ball-bore": (WIDE_BORE, 1.0, 1.0),
    "bull-slot": (SLOT, 1.0, 0.3),
    "bull-ramp": (RAMP, 1.0, 0.4),
    "bull-zigzag": (ZIGZAG, 1.2, 0.2),
    "bull-ramped-arc": (RAMPED_ARC, 1.0, 0.5),
    "bull-bore": (BORE, 1.0, 0.25),
}


@pytest.mark.parametrize("name", PROGRAMS)
def test_removed_volume_agrees_with_solids_within_a_tenth_of_a_percent(name):
    rows, radius, corner = PROGRAMS[name]
    if name == "bull-ramped-arc":  # its stop, exactly on the arc
        (kind, start, stop, centre, turns), angle = rows[0], 2 * np.pi * rows[0][4]
        v = np.array(start[:2]) - centre
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        rows = [(kind, start, (*(np.array(centre) + turn @ v), stop[2]), centre, turns)]
    wanted = removed_by_solids(rows, radius, corner)
    assert removed_by_columns(rows, radius, corner) == pytest.approx(wanted, rel=1e-3)


CONES = {
    "sharp-slot": (SLOT, 1.2, (0.0, np.deg2rad(45))),
    "sharp-helix": (WIDE_BORE, 1.0, (0.0, np.deg2rad(30))),
    "tipped-ramp": (RAMP, 1.0, (0.3, np.deg2rad(45))),
    "tipped-zigzag": (ZIGZAG, 1.2, (0.2, np.deg2rad(60))),
    "slender-steep": (STEEP, 0.8, (0.1, np.deg2rad(15))),
    "blunt-steep": (STEEP, 0.8, (0.2, np.deg2rad(75))),
    "tipped-half-turn": (HALF_TURN, 1.0, (0.25, np.deg2rad(45))),
    "tipped-bore": (BORE, 1.0, (0.5, np.deg2rad(45))),
}


@pytest.mark.parametrize("name", CONES)
def test_cones_remove_what_their_solids_share_with_the_plate(name):
    """Chamfer mills, also steeper than their own side (slope 3.6 against cot 75 degrees = 0.27)."""
    rows, radius, cone = CONES[name]
    wanted = removed_by_solids(rows, radius, 0.0, cone)
    assert removed_by_columns(rows, radius, 0.0, cone) == pytest.approx(wanted, rel=1e-3)


def test_a_bevel_of_56_passes_leaves_what_its_hulls_leave():
    """8 degrees, R 1, r 0.2, steps of 0.08 mm: axis at d - r sin a - (R - r), tip r (1 - cos a) lower.

    The hulls' union is compared with the columns, and both with the prism above the bevel.
    """
    a, radius, corner = np.radians(8.0), 1.0, 0.2
    d = 0.08 * np.arange(56)
    y = d - corner * np.sin(a) - (radius - corner)
    z = 0.5 + d * np.tan(a) - corner * (1 - np.cos(a))
    rows = [line((8, u, w), (-3, u, w)) for u, w in zip(y, z, strict=True)]
    by_columns, by_solids = (
        f(rows, radius, corner) for f in (removed_by_columns, removed_by_solids)
    )
    assert by_columns == pytest.approx(by_solids, rel=1e-3)
    wedge = 8.0 * (4.4 * 1.0 - 4.4**2 * np.tan(a) / 2)  # over the bevel, before cusps
    before = 8.0 * 1.5 * 1.0  # beside the edge, as deep as the first pass
    assert by_columns == pytest.approx(wedge + before, rel=0.02)
