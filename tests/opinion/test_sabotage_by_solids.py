"""The oracle's heights of changed cuts against solids swept and united by manifold3d.

The sweep of a convex cutter along a straight motion is the hull of its two ends. A prism of a few
micrometres on the place of a sight, cut out of the united sweeps, ends at the height that the cut
leaves there. Facets of circle and corner put a solid within 2 um of the cutter where its surface is
no steeper than 45 degrees.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold

from knifecam.sweep.side_program import stored_of
from tests.opinion.test_volume_of_cuts import chords, cutter_points
from tests.sabotage import harness as spoil
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.sights import FLAT, SOLID, TRENCH, VOID
from tests.unit.sabotage.test_oracle import WALL, oracle

WIDE = 0.004
"""mm: the prism's sides."""

HIGH = 3.0
"""mm above the mid-plane: where prisms end."""

ACCURATE = 0.003
"""mm"""

MOTIONS_NEAR = 4.0
"""mm: as far from a place as a motion's box can be that matters."""


def left_of(prism: Manifold, strokes, x: float, y: float) -> Manifold:
    """Return what the motions below the plate's face that come near a place leave of the prism there.

    The deepest come first: a sweep lies above its lowest tip, so none is made where all above that
    is gone.
    """
    begin, end = strokes.start[:, 2], strokes.stop[:, 2]
    deepest = np.minimum(begin, end)
    for k in np.argsort(deepest, kind="stable"):
        if deepest[k] >= min(1.5, prism.bounding_box()[5]):
            break
        start, stop = strokes.start[k], strokes.stop[k]
        kind = 2 if strokes.turns[k] else 1
        tips = chords((kind, start, stop, strokes.centre[k], strokes.turns[k]))
        if np.hypot(*(tips[:, :2] - (x, y)).T).min() > MOTIONS_NEAR + np.hypot(*(stop - start)[:2]):
            continue
        radius, corner = strokes.radius[k], strokes.radius[k] - strokes.flat[k]
        body = cutter_points(radius, corner, None)
        chain = list(pairwise(tips))
        away = [_away(a, b, x, y) for a, b in chain]
        for j in np.argsort(away, kind="stable"):  # the nearest mostly takes all above the tip
            if away[j] > radius + 0.05 or deepest[k] >= prism.bounding_box()[5]:
                break
            a, b = chain[j]
            prism -= Manifold.hull_points(np.concatenate([body + a, body + b]))
    return prism


def _away(a: np.ndarray, b: np.ndarray, x: float, y: float) -> float:
    """Return how far in the plane a place is from a chord, mm."""
    run, to = (b - a)[:2], np.array([x, y]) - a[:2]
    way = np.clip(float(to @ run) / max(1e-12, float(run @ run)), 0.0, 1.0)
    return float(np.hypot(*(to - way * run)))


def height_by_solids(field: Field, side: int, place: int) -> float:
    x, y = float(field.sights.x[place]), float(field.sights.y[place])
    low = -1.5
    prism = Manifold.cube((WIDE, WIDE, HIGH - low)).translate((x - WIDE / 2, y - WIDE / 2, low))
    return min(1.5, low + left_of(prism, field.sides[side].strokes, x, y).volume() / WIDE**2)


def mutants() -> dict[str, tuple[str, str]]:
    a, b = oracle().texts
    return {
        "wall aside": (spoil.moved(a, "X", 0.1, cut=WALL), b),
        "deeper": (a, spoil.moved(b, "Z", -0.05, cut=WALL)),
        "through the blade": (
            spoil.inserted(a, spoil.nth(a, "^G1 X29", cut=WALL), "G1 X60.0 Y30.0\nG1 X81.0 Y18.5"), b,
        ),
    }  # fmt: skip


@pytest.mark.parametrize("name", list(mutants()))
def test_changed_cut_against_solids(name: str) -> None:
    good = oracle()
    from knifecam.rs274.program_reader import read_program

    texts = mutants()[name]
    read = [
        old if text == was else read_program(text, stored_of(good.order.setup))
        for old, text, was in zip(good.traces, texts, good.texts, strict=True)
    ]
    field = good.good.recut(good.order, (read[0], read[1]))
    side = 0 if texts[0] != good.texts[0] else 1
    moved = np.abs(field.sides[side].level - good.good.sides[side].level) > 1e-6
    wanted = moved & np.isin(field.sights.role, (SOLID, VOID, FLAT, TRENCH))
    wanted &= np.isfinite(field.sides[side].level)
    places = np.random.default_rng(5).permutation(np.flatnonzero(wanted))[:12]
    assert len(places) >= 6
    compared = 0
    for place in places:
        own = float(np.maximum(field.sides[side].level[place], -1.5))
        if _steep(field, side, int(place)):
            continue
        solid = height_by_solids(field, side, int(place))
        compared += 1
        assert solid == pytest.approx(own, abs=ACCURATE)
    assert compared >= 4


def _steep(field: Field, side: int, place: int) -> bool:
    """Whether the lowest cutter over a place has it near its rim, where facets say little."""
    pairs, radius = field.sides[side].pairs, field.sides[side].strokes.radius
    mine = np.flatnonzero(pairs.place == place)
    if not len(mine):
        return False
    lowest = mine[pairs.height[mine] <= pairs.height[mine].min() + 0.02]
    return bool((pairs.near[lowest] > radius[pairs.motion[lowest]] - 0.05).any())
