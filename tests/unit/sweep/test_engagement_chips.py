"""The largest chip of cutters with a corner radius, against closed forms.

At a height h above its tip a cutter of radius R and corner r has the radius v(h), and its edge there
takes chips of ``fz sin(k) cos(t)``: k from the axis to the edge's normal, t from straight ahead. In
level cuts the thickest is where the metal's top is met as nearly ahead as metal stands:
``fz sin(arc) sin(k at the top)``. What earlier straight passes left over a place is known in
closed form too, so the whole edge can be searched, by plain arithmetic that is none of ours.
"""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import ARC, FEED, Motions
from knifecam.sweep import cutter_contact
from knifecam.sweep.columns import cut_grid, plate_grid
from knifecam.sweep.contact_record import EarlierCuts, contact_of_steps
from knifecam.sweep.cutter_profile import cutter_profiles
from knifecam.sweep.sweep_steps import steps_of
from tests.unit.sweep.test_engagement_angles import FRAME

R, SIZE, FACE = 3.0, 24.0, 4.0
WITHIN = 0.01
CORNERS = [0.2, 0.5, 1.0, R]
DEPTHS = [0.02, 0.05, 0.1, 0.19, 0.3, 0.45, 0.8, 1.5, 3.0]


def chips(rows, corner, *, cell=0.1):
    """The largest chip over the feed per tooth of the last motion's steps, clear of its ends."""
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    motions = Motions(
        np.array(kind, np.uint8), np.array(start, float), np.array(stop, float),
        np.array(centre, float), np.array(turns, float), np.full(len(rows), 100.0),
    )  # fmt: skip
    grid = plate_grid((0, 0, SIZE, SIZE), 2 * FACE, cell)
    record = cut_grid(grid, motions, R, corner, side="A", flip="X", first=0).engagement
    steps = steps_of(motions, record, FRAME)
    last = np.flatnonzero(record.motion == len(rows) - 1)
    last = last[1:-3] if rows[-1][0] == ARC else last[np.abs(record.place[last, 0] - 12) < 5]
    plate = np.array([0, SIZE, 0, SIZE, -FACE, FACE])
    return contact_of_steps(
        steps, [EarlierCuts(motions, cutter_profiles(len(rows), R, corner))], plate, last
    )[:, cutter_contact.CHIP]


def passes(*places):
    """Rows of straight passes along X at places (y, z)."""
    return [(FEED, (-5, y, z), (SIZE + 5, y, z), (0.0, 0.0), 0.0) for y, z in places]


def radius_at(h, corner):
    return R - corner + np.sqrt(corner**2 - (corner - np.minimum(h, corner)) ** 2)


def steepness(v, corner):
    return (v - R + corner) / corner


def above(off, corner):
    """Height of the cutter's surface above its tip, inf beside it."""
    w = np.maximum(np.abs(off) - (R - corner), 0.0)
    return np.where(w <= corner, corner - np.sqrt(np.maximum(corner**2 - w**2, 0.0)), np.inf)


def thickest(places, corner):
    """The largest chip of the last of straight passes: the whole edge searched, and the flank."""
    (*before, (y, z)) = places
    v, t = np.meshgrid(
        R - corner + corner * np.linspace(0.0005, 0.9995, 900), np.linspace(-1.5704, 1.5704, 1201)
    )
    left = y + v * np.sin(t)
    top = np.full_like(left, FACE)
    for y0, z0 in before:
        top = np.minimum(top, z0 + above(left - y0, corner))
    stands = top > z + above(v, corner) + 1e-9
    return float(np.max(np.where(stands, steepness(v, corner) * np.cos(t), 0.0)))


def test_the_search_gives_what_the_formulas_give():
    """A slot 0.3 deep, and a lane of 0.6 beside it, ``sin(arc)`` by ``cos(arc) = 1 - ae / v``."""
    v = float(radius_at(0.3, 1.0))
    assert v == pytest.approx(2 + np.sqrt(1 - 0.49))
    assert thickest([(12, FACE - 0.3)], 1.0) == pytest.approx(v - 2, rel=5e-3)
    arc = np.arccos(1 - 0.6 / v)
    lanes = [(12, FACE - 0.3), (12.6, FACE - 0.3)]
    assert thickest(lanes, 1.0) == pytest.approx((v - 2) * np.sin(arc), rel=5e-3)


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("corner", CORNERS)
def test_slots(corner, depth):
    true = float(steepness(radius_at(depth, corner), corner))
    found = chips(passes((12, FACE - depth)), corner)
    assert found == pytest.approx(true, rel=WITHIN)


@pytest.mark.parametrize("depth", DEPTHS[:6])
@pytest.mark.parametrize("corner", CORNERS)
def test_later_levels_of_slots(corner, depth):
    for level in (2, 4):
        places = [(12, FACE - k * depth) for k in range(1, level + 1)]
        true = float(steepness(radius_at(depth, corner), corner))
        assert thickest(places, corner) == pytest.approx(true, rel=5e-3)
        assert chips(passes(*places), corner) == pytest.approx(true, rel=WITHIN)


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("ae", [0.1, 0.6, 2.4])
def test_lanes(ae, corner, depth):
    v = radius_at(depth, corner)
    arc = np.arccos(max(1 - ae / v, 0.0))
    true = float(steepness(v, corner) * np.sin(arc))
    places = [(12, FACE - depth), (12 + ae, FACE - depth)]
    assert chips(passes(*places), corner) == pytest.approx(true, rel=WITHIN)


@pytest.mark.parametrize("depth", DEPTHS[:6])
@pytest.mark.parametrize("corner", CORNERS)
def test_lanes_of_later_levels(corner, depth):
    """Beside the lane before, under the lanes of the level above."""
    above_ = [(y, FACE - depth) for y in (9.0, 11.0, 13.0)]
    places = [*above_, (9.0, FACE - 2 * depth), (11.0, FACE - 2 * depth)]
    assert chips(passes(*places), corner) == pytest.approx(thickest(places, corner), rel=WITHIN)


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("corner", CORNERS)
def test_bores(corner, depth):
    """A circle of radius 3 round one of 2.6: metal outside of the wall that one left at each height.

    At the height h the wall stands 2.6 + v from the centre; the rim meets it from where
    ``sin(t) = (v^2 + 3^2 - (2.6 + v)^2) / (2 v 3)`` outward.
    """
    z, before, path = FACE - depth, 2.6, 3.0
    rows = [(ARC, (12 + p, 12, z), (12 + p, 12, z), (12.0, 12.0), 1.0) for p in (before, path)]
    v = radius_at(np.linspace(0.0, min(depth, corner), 4000)[1:], corner)
    sine = (v**2 + path**2 - (before + v) ** 2) / (2 * v * path)
    true = float(np.max(steepness(v, corner) * np.sqrt(1 - np.clip(sine, -1.0, 0.0) ** 2)))
    assert chips(rows, corner) == pytest.approx(true, rel=WITHIN)


@pytest.mark.parametrize("stepdown", [0.02, 0.05, 0.1, 0.3])
@pytest.mark.parametrize("angle", [5.0, 10.0, 20.0])
@pytest.mark.parametrize("corner", CORNERS)
def test_levels_of_a_bevel(corner, angle, stepdown):
    """Each pass lower by a stepdown and farther out along the slope, ``stepdown / tan(angle)``."""
    out = stepdown / np.tan(np.radians(angle))
    places = [(12 + out * (k - 2), FACE - stepdown * k) for k in (1, 2, 3)]
    true = thickest(places, corner)
    assert chips(passes(*places), corner) == pytest.approx(true, rel=WITHIN)


@pytest.mark.parametrize("step", [0.05, 0.2])
@pytest.mark.parametrize("angle", [3.0, 10.0, 20.0])
@pytest.mark.parametrize("corner", CORNERS)
def test_finishing_passes_up_a_bevel(corner, angle, step):
    """From the edge upward along the slope, metal of 0.1 over it."""
    rise = step * np.tan(np.radians(angle))
    rough = [
        (12 + 0.2 * k, FACE - 1.0 + 0.1 + 0.2 * k * np.tan(np.radians(angle))) for k in range(5)
    ]
    places = [*rough, (12.0, FACE - 1.0), (12.0 + step, FACE - 1.0 + rise)]
    true = thickest(places, corner)
    assert chips(passes(*places), corner) == pytest.approx(true, rel=WITHIN)
