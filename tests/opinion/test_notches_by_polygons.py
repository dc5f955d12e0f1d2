"""The closed refusals of jimping against polygons of a general-purpose library.

Shapely knows nothing of stations: the land is the length of what stays of the outline between two
discs, the web the distance between two discs, and a notch elsewhere is a second piece of outline in
one disc.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.ops

from knifecam.blade import Bore, Jimping
from knifecam.blade.jimping import axes
from knifecam.curve import Stretch
from knifecam.rules.jimping_rules import jimping
from tests.agreement.orders import simple_order
from tests.opinion.test_feasible_by_dilation import random_outline

LAND, WEB = 0.4, 1.5
DOUBT = 0.01
"""mm: chords of 1 um and discs of 256 corners."""

BASE = simple_order()


def random_row(rng: np.random.Generator, outline) -> Jimping:
    """A row of two to five notches anywhere, too near to each other as often as not."""
    diameter = float(rng.uniform(1.5, 3.0))
    depth = float(rng.uniform(0.3, 0.45) * diameter / 2)
    pitch = float(rng.uniform(0.6, 1.3) * diameter) + 0.2
    first = float(rng.uniform(0, outline.length))
    stations = first + pitch * np.arange(int(rng.integers(2, 6)))
    centres = axes(outline, stations % outline.length, diameter=diameter, depth=depth)
    stretch = Stretch(start=first - diameter, end=float(stations[-1]) + diameter)
    return Jimping(
        name="J1", stretch=stretch, diameter=diameter, depth=depth, pitch=pitch,
        centres=tuple((float(x), float(y)) for x, y in centres),
    )  # fmt: skip


def seen_by_polygons(outline, row: Jimping, bore: Bore) -> tuple[float, float, bool]:
    """Least land, web to the bore, and whether each disc holds one piece of the outline."""
    ring = shapely.LineString(np.vstack([outline.points(0.001), outline.vertices[:1]]))
    discs = [shapely.Point(c).buffer(row.diameter / 2, quad_segs=64) for c in row.centres]
    inside = [shapely.line_merge(ring.intersection(disc)) for disc in discs]
    if not all(piece.geom_type == "LineString" for piece in inside):
        return np.nan, np.nan, False
    places = [ring.project(piece.interpolate(0.5, normalized=True)) for piece in inside]
    lands = []
    order = np.argsort(places)
    for k, after in zip(order, np.roll(order, -1), strict=True):
        low, high = places[k], places[after]
        pieces = [(low, high)] if high > low else [(low, ring.length), (0.0, high)]
        between = [shapely.ops.substring(ring, *piece) for piece in pieces]
        gap = sum(part.difference(shapely.union_all(discs)).length for part in between)
        shared = discs[k].intersection(discs[after]).intersection(ring).length
        lands.append(-shared if shared > 0 else gap)
    pin = shapely.Point(bore.centre).buffer(bore.diameter / 2, quad_segs=64)
    web = min(disc.distance(pin) for disc in discs)
    return min(lands), web, True


@pytest.mark.parametrize("seed", range(3))
def test_lands_webs_and_bays_agree_with_polygons(seed):
    rng = np.random.default_rng([seed, 7])
    told = {"land": 0, "web": 0, "bay": 0}
    for _ in range(40):
        outline = random_outline(rng)
        row = random_row(rng, outline)
        at = np.array(row.centres[0]) + rng.uniform(-7, 7, 2)
        bore = Bore(name="B1", centre=(float(at[0]), float(at[1])), diameter=4.0)
        blade = replace(BASE.blade, outline=outline, slots=(), bores=(bore,), jimping=(row,))
        lines = list(jimping(replace(BASE, blade=blade)))
        land, web, alone = seen_by_polygons(outline, row, bore)
        if not alone:
            continue  # the notch takes two bites: told by another line, and no land can be told
        short = any("of land between" in line for line in lines)
        assert short == (land < LAND) or abs(land - LAND) < DOUBT, (land, lines)
        thin = any("to bore 'B1'" in line for line in lines)
        assert thin == (web < WEB) or abs(web - WEB) < DOUBT, (web, lines)
        told["land"] += short
        told["web"] += thin
    assert told["land"] > 5
    assert told["web"] > 5


@pytest.mark.parametrize("seed", range(2))
def test_second_bites_are_seen(seed):
    """A notch that takes none or a second piece of the outline is refused, any other is not."""
    rng = np.random.default_rng([seed, 11])
    told = 0
    for _ in range(60):
        outline = random_outline(rng)
        row = random_row(rng, outline)
        near = rng.uniform([-30, -16], [30, 16])
        row = replace(row, diameter=20.0, depth=1.0, centres=((float(near[0]), float(near[1])),))
        blade = replace(BASE.blade, outline=outline, slots=(), bores=(), jimping=(row,))
        lines = [x for x in jimping(replace(BASE, blade=blade)) if "cut the outline" in x
                 or "cuts the outline" in x]  # fmt: skip
        ring = shapely.LineString(np.vstack([outline.points(0.001), outline.vertices[:1]]))
        disc = shapely.Point(row.centres[0]).buffer(row.diameter / 2, quad_segs=64)
        parts = shapely.get_parts(shapely.line_merge(ring.intersection(disc)))
        pieces = [part.length for part in parts if part.length > 0]
        if min(pieces, default=1.0) > 0.15:  # shorter ones may go unseen
            assert bool(lines) == (len(pieces) != 1), (pieces, lines)
            told += bool(lines)
    assert told > 5
