"""The reference: good programs cut at all sights, kept so that a change is cut afresh only where it
reaches."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import place_at
from knifecam.rs274.trace import Trace
from knifecam.shop import Order
from knifecam.shop.setup import Misplacement
from tests.sabotage.oracle.cut import Bins, Pairs, bins_of, pairs_of, sorted_pairs, walked
from tests.sabotage.oracle.form import Strokes
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.sights import NECK, TAB, VOID, Sights, sights_of
from tests.sabotage.oracle.strokes import strokes_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SCOUT, FINE, PLAIN = 0.05, 0.01, 0.1
"""mm between places along the outline: where tabs are sought, at their ends, and across them."""

ENDS = 0.5
"""mm on either side of a tab's end that are looked at finely."""

METAL = 0.02
"""mm: a thinner skin is no tab."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Field:
    """Both sides cut at ``sights``; ``changed`` (n,) tells where another cut than the reference's
    was made, all places in the reference itself."""

    order: Order
    sights: Sights
    bins: Bins
    sides: tuple[SideCut, SideCut]
    changed: Bools

    @cached_property
    def thickness(self) -> Floats:
        """(n,) mm of metal left."""
        return np.maximum(self.sides[0].level + self.sides[1].level, 0.0)

    def recut(
        self, order: Order, traces: tuple[Trace, Trace], lies: Misplacement | None = None
    ) -> Field:
        """Return the same sights cut by other programs, or with another stand."""
        whole = order.setup.plate.thickness != self.order.setup.plate.thickness
        changed = np.full(len(self.sights), whole)
        face, parts = order.setup.plate.thickness / 2, []
        for old, trace in zip(self.sides, traces, strict=True):
            if trace is old.trace and order is self.order and not (lies and old.name == "B"):
                parts.append((old.strokes, old.pairs))
                continue
            strokes = strokes_of(order, old.name, trace, lies if old.name == "B" else None)
            pairs, touched = self._pairs(old, strokes, face, whole=whole)
            changed[touched] = True
            parts.append((strokes, pairs))
        return self._walked(order, traces, parts, changed, face, whole=whole)

    def with_more(self, points: Floats, role: Ints) -> Field:
        """Return the good programs cut at further places (n, 2) too, and what those are for."""
        fresh = Sights(
            x=points[:, 0], y=points[:, 1], role=role, station=np.full(len(points), np.nan),
            toward=np.zeros((len(points), 2)),
        )  # fmt: skip
        more = _cut(self.order, fresh, (self.sides[0].trace, self.sides[1].trace))
        sides = [_both(a, b, len(self.sights)) for a, b in zip(self.sides, more.sides, strict=True)]
        sights = self.sights.joined(fresh)
        return Field(
            order=self.order, sights=sights, bins=bins_of(sights.x, sights.y),
            sides=(sides[0], sides[1]), changed=np.ones(len(sights), bool),
        )  # fmt: skip

    def _pairs(
        self, old: SideCut, strokes: Strokes, face: float, *, whole: bool
    ) -> tuple[Pairs, Ints]:
        """Return the pairs of other strokes, and the places that lost or gained any."""
        head, tail = (0, 0) if whole else alike(old.strokes.table(), strokes.table())
        before, after = len(old.strokes), len(strokes)
        fresh = pairs_of(
            strokes, np.arange(head, after - tail), self.sights.x, self.sights.y, self.bins, face
        )
        motion = old.pairs.motion
        kept = (motion < head) | (motion >= before - tail)
        gone = np.unique(old.pairs.place[~kept])
        same = old.pairs.rows(kept)
        moved = np.where(same.motion >= before - tail, same.motion + after - before, same.motion)
        same = replace(same, motion=moved)
        return sorted_pairs([same, fresh]), np.union1d(gone, np.unique(fresh.place))

    def _walked(  # type: ignore[no-untyped-def]
        self, order: Order, traces, parts, changed: Bools, face: float, *, whole: bool
    ) -> Field:
        places = np.flatnonzero(changed)
        sides, far, lower = [], np.full(len(places), -face), np.full(len(changed), -face)
        for old, trace, (strokes, pairs) in zip(self.sides, traces, parts, strict=True):
            mine = changed[pairs.place]
            taken = walked(pairs.rows(mine), places, face, far)
            level = np.full(len(changed), face) if whole else old.level.copy()
            level[places] = taken.level
            removed = np.zeros(len(pairs.place))
            removed[mine] = taken.removed
            if not whole:  # elsewhere the same motions took the same
                removed[~mine] = old.removed[~changed[old.pairs.place]]
            sides.append(
                SideCut(
                    name=old.name, trace=trace, strokes=strokes, face=face, pairs=pairs,
                    removed=removed, level=level, far=lower,
                )
            )  # fmt: skip
            far, lower = -np.maximum(taken.level, -face), -np.maximum(level, -face)
        return Field(
            order=order, sights=self.sights, bins=self.bins, sides=(sides[0], sides[1]),
            changed=changed,
        )  # fmt: skip


def _both(side: SideCut, more: SideCut, count: int) -> SideCut:
    """Return a side's cut at its ``count`` places and at more, which come after them."""
    p, q = side.pairs, more.pairs
    pairs = Pairs(
        motion=np.append(p.motion, q.motion), place=np.append(p.place, q.place + count),
        height=np.append(p.height, q.height), near=np.append(p.near, q.near),
    )  # fmt: skip
    return replace(
        side, pairs=pairs, removed=np.append(side.removed, more.removed),
        level=np.append(side.level, more.level), far=np.append(side.far, more.far),
    )  # fmt: skip


def alike(old: Floats, new: Floats) -> tuple[int, int]:
    """Return how many rows two tables share at their beginnings and ends."""
    least = min(len(old), len(new))
    same = (old[:least] == new[:least]).all(axis=1)
    head = least if same.all() else int(np.argmin(same))
    back = (old[::-1][: least - head] == new[::-1][: least - head]).all(axis=1)
    return head, (least - head if back.all() else int(np.argmin(back)))


def reference(order: Order, traces: tuple[Trace, Trace]) -> Field:
    """Return good programs cut at all sights, those of their tabs too."""
    sights = sights_of(order)
    sights = _with_tabs(sights, order, traces)
    return _cut(order, sights, traces)


def _cut(order: Order, sights: Sights, traces: tuple[Trace, Trace]) -> Field:
    face = order.setup.plate.thickness / 2
    bins, places = bins_of(sights.x, sights.y), np.arange(len(sights))
    far, sides = np.full(len(sights), -face), []
    for name, trace in zip("AB", traces, strict=True):
        strokes = strokes_of(order, name, trace)
        pairs = pairs_of(strokes, np.arange(len(strokes)), sights.x, sights.y, bins, face)
        taken = walked(pairs, places, face, far)
        sides.append(
            SideCut(
                name=name, trace=trace, strokes=strokes, face=face, pairs=pairs,
                removed=taken.removed, level=taken.level, far=far,
            )
        )  # fmt: skip
        far = -np.maximum(taken.level, -face)
    return Field(
        order=order, sights=sights, bins=bins, sides=(sides[0], sides[1]),
        changed=np.ones(len(sights), bool),
    )  # fmt: skip


def _with_tabs(sights: Sights, order: Order, traces: tuple[Trace, Trace]) -> Sights:
    """Return the sights with those across each tab, midway in the finished groove."""
    outline = order.blade.outline.counter_clockwise()
    finishers = [c.cutter for c in order.cutting if c.stage == "finish"]
    away = min(order.cutter(n).radius for n in finishers) if finishers else order.trench.width / 2

    def across(stations: Floats, off: float = away) -> Floats:
        points, headings = place_at(outline, stations)
        return points + off * np.column_stack([np.sin(headings), -np.cos(headings)])

    stations = np.arange(0.0, outline.length, SCOUT)
    none = np.zeros(0)
    scouts = Sights(
        x=none, y=none, role=none.astype(int), station=none, toward=np.zeros((0, 2))
    ).with_more(across(stations), TAB, stations)
    metal = _cut(order, scouts, traces).thickness > METAL
    edges = np.flatnonzero(np.diff(metal.astype(int)))
    fine = [stations[k] + np.arange(-ENDS, ENDS, FINE) for k in edges]
    plain = stations[metal][:: max(1, round(PLAIN / SCOUT))]
    at = np.unique(np.round(np.concatenate([*fine, plain, none]) % outline.length, 4))
    sights = sights.with_more(across(at), TAB, at)
    neckers = [order.cutter(c.cutter).radius for c in order.cutting if c.stage == "neck"]
    if not (order.tabs.neck > 0.0 and neckers and len(plain)):
        return sights
    return sights.with_more(across(plain, min(neckers)), NECK, plain)


def tab_zones(field: Field, within: float) -> Bools:
    """Return the sights of the outline that lie within a length of a tab, (n,)."""
    sights, whole = field.sights, field.order.blade.outline.length
    held = np.isin(sights.role, (VOID, TAB)) & (field.thickness > METAL)
    tabs = np.unique(sights.station[held & np.isfinite(sights.station)])
    if not len(tabs):
        return np.zeros(len(sights), bool)
    lap = np.concatenate([tabs - whole, tabs, tabs + whole])
    at = np.nan_to_num(sights.station, nan=-1e9)
    k = np.clip(np.searchsorted(lap, at), 1, len(lap) - 1)
    return np.minimum(np.abs(lap[k] - at), np.abs(lap[k - 1] - at)) < within
