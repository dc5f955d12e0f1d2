"""The rim before earlier cuts against dense stamps, and the kernel compiled and plain."""

from __future__ import annotations

import naive_stamps
import numpy as np
import pytest
from random_motions import (
    CUTTERS,
    KINDS,
    as_motions,
    corner_of,
    places_near,
    random_chain,
    random_cone,
    random_motion,
)
from test_plain_twins import plain

from knifecam.sweep import contact_record, cutter_contact
from knifecam.sweep.columns import cut_grid, plate_grid
from knifecam.sweep.contact_record import EarlierCuts, contact_of_steps
from knifecam.sweep.cutter_profile import cutter_profiles
from knifecam.sweep.side_frames import Frame
from knifecam.sweep.sweep_limits import SWEPT_WITHIN_MM
from knifecam.sweep.sweep_steps import steps_of

FRAME = Frame(side="A", signs=(1.0, 1.0, 1.0), datum=(0.0, 0.0), zero=0.0)
STAMPING = 3e-6
"""mm: what the stamps may miss."""

PLATE = np.array([-4.0, 4.0, -4.0, 4.0, -1.0, 1.0])


@pytest.fixture(scope="module")
def plain_rim():
    twin = plain(cutter_contact)
    assert not hasattr(twin.look, "py_func")
    return twin


@pytest.mark.parametrize("cutter", [*CUTTERS, "cone"])
@pytest.mark.parametrize("kind", KINDS)
def test_the_pieces_of_a_motion_leave_what_its_stamps_leave(plain_rim, cutter, kind):
    rng = np.random.default_rng([[*CUTTERS, "cone"].index(cutter), KINDS.index(kind), 7])
    for _ in range(40):
        radius = rng.uniform(0.3, 2.0)
        cone = random_cone(radius, rng) if cutter == "cone" else None
        corner = 0.0 if cone else corner_of(cutter, radius, rng)
        motion = random_motion(kind, rng)
        points = places_near(naive_stamps.place, motion, radius, rng, 12)
        forms = cutter_profiles(1, radius, corner, *(cone or ()))
        pieces = contact_record._pieces(EarlierCuts(as_motions([motion]), forms), 50.0)
        for piece in pieces:
            plain_rim.lay(piece)
        found = np.array(
            [min(plain_rim.height(p, x, y, np.inf) for p in pieces) for x, y in points]
        )
        height, nearest = naive_stamps.lowest(motion, radius, corner, *points.T, cone)
        sure = np.abs(nearest - radius) > 3e-6
        assert np.array_equal(np.isfinite(found[sure]), np.isfinite(height[sure]))
        met = sure & np.isfinite(height)
        # the kernel's rim is a nanometre wider: between the stamps of both, but for their steps
        wider = radius + 2 * SWEPT_WITHIN_MM
        below, _ = naive_stamps.lowest(motion, wider, corner, *points.T, cone)
        assert np.all(found[met] <= height[met] + STAMPING)
        assert np.all(found[met] >= below[met] - STAMPING)


def chain_met(rng, radius, corner, count=12):
    rows = random_chain(rng, count)
    motions = as_motions(rows)
    grid = plate_grid((-4, -4, 4, 4), 2.0, 0.1)
    record = cut_grid(grid, motions, radius, corner, side="A", flip="X", first=0).engagement
    steps = steps_of(motions, record, FRAME)
    chosen = np.flatnonzero(record.place[:, 2] < 1.0)
    taken = [EarlierCuts(motions, cutter_profiles(count, radius, corner))]
    return rows, steps, chosen, contact_of_steps(steps, taken, PLATE, chosen)


@pytest.mark.parametrize("corner", [0.0, 0.25, 0.8])
@pytest.mark.parametrize("seed", range(2))
def test_compiled_and_plain_find_the_same(plain_rim, monkeypatch, corner, seed):
    results = []
    for chosen in (cutter_contact, plain_rim):
        monkeypatch.setattr(contact_record, "cutter_contact", chosen)
        results.append(chain_met(np.random.default_rng([seed, 5]), 0.8, corner, 6)[3])
    assert np.allclose(*results, rtol=0.0, atol=1e-9)
    assert results[0].any()


def metal_before(rows, motion, share, radius, x, y):
    """Metal over places just before a share of a motion, by stamps of a flat cutter."""
    top = np.full(len(x), 1.0)
    for row in rows[:motion]:
        top = np.minimum(top, naive_stamps.lowest(row, radius, 0.0, x, y)[0])
    kind, start, _, centre, turns = rows[motion]
    if kind == 2 and share > 0.0:
        now = naive_stamps.place(rows[motion], share)
        begun = (kind, start, now, centre, turns * share)
        top = np.minimum(top, naive_stamps.lowest(begun, radius - 1e-4, 0.0, x, y)[0])
    return top, naive_stamps.place(rows[motion], share)[2]


def longest(metal):
    """Lengths of the runs each direction is in."""
    out = np.zeros(len(metal), int)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], metal.astype(int), [0]])))
    for a, b in edges.reshape(-1, 2):
        out[a:b] = b - a
    return out


@pytest.mark.parametrize("seed", range(6))
def test_where_the_rim_meets_metal_is_where_the_stamps_left_it(seed):
    """Flat cutter, chains of lines, ramps, plunges, arcs and helices through each other.

    Every stretch of metal of 7 degrees or more lies between the two ends found, and at both ends
    found there is metal within half a degree.
    """
    rng = np.random.default_rng([seed, 11])
    radius = 0.8
    rows, steps, chosen, found = chain_met(rng, radius, 0.0)
    record = steps.engagement
    counts = np.bincount(record.motion)
    looked = 0
    for k, row in list(zip(chosen, found, strict=True))[:: max(1, len(chosen) // 12)]:
        hx, hy = steps.heading[k]
        if hx == hy == 0.0:
            continue
        motion = int(record.motion[k])
        share = (k - counts[:motion].sum() + 0.5) / counts[motion]
        angle = np.radians(np.arange(-88.0, 88.01, 0.5))
        ahead, left = radius * np.cos(angle), radius * np.sin(angle)
        x = record.place[k, 0] + ahead * hx - left * hy
        y = record.place[k, 1] + ahead * hy + left * hx
        top, tip = metal_before(rows, motion, share, radius, x, y)
        inside = (np.abs(x) < 4.0) & (np.abs(y) < 4.0)
        thick = np.where(inside, top - np.maximum(tip, -1.0), 0.0)
        wide = longest(thick > 0.01) >= 14
        if wide.any():
            assert angle[wide].max() <= row[cutter_contact.HIGH] + np.radians(0.6), (
                k,
                rows[motion],
            )
            assert angle[wide].min() >= row[cutter_contact.LOW] - np.radians(0.6), (k, rows[motion])
            looked += 1
        if row[cutter_contact.AXIAL] > 0.0:
            some = angle[thick > 1e-5]
            for end in (row[cutter_contact.HIGH], row[cutter_contact.LOW]):
                if abs(end) < np.radians(87.0):
                    assert np.abs(some - end).min() < np.radians(0.6), (k, rows[motion])
    assert looked > 1
