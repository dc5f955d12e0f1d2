"""What all steps together leave, lowest first, held to the sweep of the same motions in turn."""

from __future__ import annotations

import numpy as np
import pytest
from random_motions import as_motions, random_chain

from knifecam.measure.sample_columns import chosen_motions
from knifecam.paths.curve_following import arc
from knifecam.report.surface_deviation import cut_to_surface
from knifecam.sweep import column_kernel
from knifecam.sweep import threads as threads_module
from knifecam.sweep.columns import cut_grid, plate_grid, sample_steps
from knifecam.sweep.cutter_profile import CutterProfile
from knifecam.sweep.sweep_steps import sweep_steps

CLOSED, SEARCHED = 1e-9, 1e-6
"""mm: what `cut_grid` promises for closed forms, and for balls and corners on helices."""


def plate():
    return plate_grid((-6, -6, 6, 6), 2.0, 0.03)


def mixed(rng):
    """Motions of all kinds, and a cutter of any form for each."""
    motions = as_motions(random_chain(rng, 60, box=5.5))
    radius, cone = rng.uniform(0.3, 1.5, 60), rng.random(60) < 0.3
    return motions, {
        "radius": radius,
        "corner": np.where(cone, 0.0, radius * rng.choice([0.0, 0.2, 1.0], 60)),
        "tip": 0.2 * radius, "half_angle": np.where(cone, 0.6, 0.0),
    }  # fmt: skip


def both_ways(seed, threads):
    """A plate cut from both sides by mixed cutters, in turn and lowest first."""
    rng = np.random.default_rng(seed)
    turned, at_once = plate(), plate()
    for first, side in ((0, "A"), (60, "B")):
        motions, form = mixed(rng)
        seen = {"side": side, "flip": "X"}
        cut_grid(turned, motions, first=first, **form, **seen)
        laid = sample_steps(motions, **form, **seen)
        cut_to_surface(at_once, laid, side=side, first=first, threads=threads)
    return turned, at_once


@pytest.mark.parametrize("seed", range(4))
def test_the_same_heights_as_cut_in_turn(seed):
    turned, at_once = both_ways(seed, 1)
    assert np.count_nonzero(turned.top < 1.0) > 20_000
    assert np.count_nonzero(turned.emptied >= 0) > 1_000
    for one, other in ((turned.top, at_once.top), (turned.bottom, at_once.bottom)):
        off = np.abs(one - other)
        assert off.max() <= SEARCHED
        assert np.count_nonzero(off > CLOSED) < 0.01 * off.size
    assert np.array_equal(turned.changed < 0, at_once.changed < 0)


def test_a_column_stands_as_the_motion_it_names_leaves_it():
    motions, form = mixed(np.random.default_rng(5))
    seen = {"side": "A", "flip": "X"}
    grid = plate()
    cut_to_surface(grid, sample_steps(motions, **form, **seen), side="A", first=0)
    stands = (grid.top > grid.bottom) & (grid.changed >= 0)
    assert np.count_nonzero(stands) > 10_000
    for m in np.unique(grid.changed[stands]):
        alone = plate()
        one = {name: figure[m : m + 1] for name, figure in form.items()}
        rows = chosen_motions(motions, slice(m, m + 1))
        cut_grid(alone, rows, first=0, **one, **seen)
        here = stands & (grid.changed == m)
        assert np.abs(alone.top[here] - grid.top[here]).max() <= SEARCHED


def test_threads_change_no_bit(monkeypatch):
    monkeypatch.setattr(threads_module, "WORTH", 1)
    one = both_ways(9, 1)[1]
    for threads in (2, 8):
        other = both_ways(9, threads)[1]
        for name in ("top", "bottom", "changed"):
            assert getattr(one, name).tobytes() == getattr(other, name).tobytes()


def test_an_arc_of_rounded_digits_begins_and_ends_where_its_neighbours_do():
    """Radii of 2.48346 and 2.48351 mm: steps lay on their mean, 0.00002 mm off both ends."""
    start, stop = np.array([-53.2256, -41.8235, 0.0]), np.array([-53.2391, -41.8568, 0.0])
    centre = np.array([start[0] - 2.3094, start[1] + 0.9135])
    arms = [np.arctan2(one[1] - centre[1], one[0] - centre[0]) for one in (start, stop)]
    turns = (arms[1] - arms[0]) / (2 * np.pi)
    one = arc(start, stop, centre, turns, 100.0)
    forms = CutterProfile(*(np.array([v]) for v in (2.0, 1.9, 0.0)))
    for parts in (1, 3):
        table = sweep_steps(one, forms, np.array([parts], np.int32), np.ones(2), 1.0).table
        ends = np.concatenate([table[:, [0, 1]], table[-1:, [3, 4]]])
        assert ends[0] == pytest.approx(start[:2], abs=1e-11)
        assert ends[-1] == pytest.approx(stop[:2], abs=1e-11)
        step = dict(zip(column_kernel.Step._fields, table.T, strict=False))
        for end in ("a", "b"):
            far = np.hypot(step[end + "x"] - step["cx"], step[end + "y"] - step["cy"])
            assert far == pytest.approx(step["path"], abs=1e-11)
