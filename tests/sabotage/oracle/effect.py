"""What a change does to the metal: every sight of it against the reference, worst first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.sabotage.oracle import harm
from tests.sabotage.oracle.field import METAL, Field, tab_zones
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR, Band
from tests.sabotage.oracle.sights import (
    BESIDE,
    BEVEL,
    FLAT,
    GROUND,
    NECK,
    RELIEVED,
    SOLID,
    SOLID_NEAR,
    TAB,
    TRENCH,
    VOID,
    VOID_NEAR,
    WASTE,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BESIDE_TAB = 1.2
"""mm along the outline within which metal beside the wall belongs to a tab."""

MIDDLE = 0.3
"""Share of a tab's or a neck's width left out at each end where its thickness is taken."""

SOUND, CUT = 1e-9, 1e-4
"""mm: heights that differ by less are one; metal that is less thick by this much has been cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One thing that a change does: its class, what it is, and its size (mm unless said)."""

    grade: str
    what: str
    amount: float


@dataclass(frozen=True, eq=False, kw_only=True)
class _Change:
    """The sights that another cut reached: metal ``gone`` from and ``more`` on the worse face (A or
    B), and thickness ``before`` and ``after``, (k,) mm; ``deeper`` as gone, counted from the face of
    the plate."""

    role: NDArray[np.int64]
    outline: Bools
    beside: Bools
    gone: Floats
    more: Floats
    deeper: Floats
    before: Floats
    after: Floats


def most_of(what: str, amount: Floats, band: Band) -> Iterator[Effect]:
    """Yield the greatest of some amounts where it is not harmless."""
    if len(amount):
        worst = float(amount.max())
        if band.of(worst) != HARMLESS:
            yield Effect(grade=band.of(worst), what=what, amount=worst)


def effects(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield what differs in the metal that is left."""
    rows = np.flatnonzero(mutant.changed)
    if not len(rows):
        return
    yield from _metal(_change(reference, mutant, rows), bevels=bool(reference.order.blade.bevels),
                      broken=bool(reference.order.blade.breaks))  # fmt: skip
    yield from _frame(reference, mutant, rows)
    role = mutant.sights.role[rows]
    if (role == NECK).any():
        yield from _necks(reference, mutant)
    if (role == TAB).any():
        yield from _tabs(reference, mutant)
        yield from _overhang(reference, mutant)


def _change(reference: Field, mutant: Field, rows: NDArray[np.int64]) -> _Change:
    before, after = reference.thickness[rows], mutant.thickness[rows]
    gone, more, deeper = (np.zeros(len(rows)) for _ in range(3))
    both = (before > SOUND) & (after > SOUND)
    for old, new in zip(reference.sides, mutant.sides, strict=True):
        rise = new.level[rows] - old.level[rows]
        gone, more = np.maximum(gone, -rise), np.maximum(more, rise)
        deeper = np.maximum(deeper, old.level[rows] - old.face - (new.level[rows] - new.face))
    lost, won = (before > SOUND) & ~both, (after > SOUND) & ~both
    gone = np.where(both, gone, np.where(lost, before, 0.0))
    deeper = np.where(both, deeper, np.where(lost, before, 0.0))
    more = np.where(both, more, np.where(won, after, 0.0))
    return _Change(
        role=mutant.sights.role[rows], outline=np.isfinite(mutant.sights.station[rows]),
        beside=tab_zones(reference, BESIDE_TAB)[rows], gone=gone,
        more=more, deeper=deeper, before=before, after=after,
    )  # fmt: skip


def _metal(c: _Change, *, bevels: bool, broken: bool) -> Iterator[Effect]:
    thicker, free = c.after - c.before, ~c.beside
    inner = Band(low=harm.FLOOR.low, high=harm.FLOOR.high) if broken else harm.LAND
    within = c.role == SOLID
    yield from _worst(
        "blade beside a wall cut away",
        within | (c.role == BESIDE) | (c.role == RELIEVED),
        c.gone,
        Band(low=harm.SKIN, high=harm.SKIN),
    )
    if bevels:
        yield from _worst("land or face beside a wall lower", within, c.deeper, inner)
        yield from _worst("land or face beside a wall higher", within & c.outline, c.more, inner)
        yield from _worst("a relief's floor lower", c.role == RELIEVED, c.deeper, harm.FLOOR)
    yield from _worst(
        "wall gone a little", c.role == SOLID_NEAR, c.gone, Band(low=harm.SKIN, high=np.inf)
    )
    yield from _worst(
        "metal left on a wall", (c.role == VOID) & free, thicker, Band(low=0.01, high=harm.SKIN)
    )
    yield from _worst("a little left on a wall", (c.role == VOID_NEAR) & free, thicker,
                      Band(low=harm.SKIN, high=np.inf))  # fmt: skip
    yield from _worst("the blade's flat cut", c.role == FLAT, c.deeper, harm.LOWER_FLAT)
    yield from _worst("a bevel gouged", c.role == BEVEL, c.gone, harm.LOWER_BEVEL)
    yield from _worst("metal left on a bevel", c.role == BEVEL, c.more, harm.HIGHER_BEVEL)
    ground = c.role == GROUND
    yield from _worst("an opening not open", ground & (c.before <= SOUND), thicker, harm.LEFT)
    yield from _worst("a floor off", ground & (c.before > SOUND), np.abs(thicker), harm.FLOOR)
    yield from _worst("a bridge over the trench", (c.role == TRENCH) & free, thicker, harm.BRIDGE)
    yield from _worst("waste cut", c.role == WASTE, -thicker, harm.WASTE)


def _worst(what: str, rows: Bools, amount: Floats, band: Band) -> Iterator[Effect]:
    yield from most_of(what, amount[rows], band)


def _frame(reference: Field, mutant: Field, rows: NDArray[np.int64]) -> Iterator[Effect]:
    """Yield how far into the plate's border, where clamps stand, metal is cut that was not."""
    plate, wide = mutant.order.setup.plate, mutant.order.trench.border
    x, y, x_low, y_low, x_high, y_high = mutant.sights.x[rows], mutant.sights.y[rows], *plate.bounds
    edge = np.minimum.reduce([x - x_low, x_high - x, y - y_low, y_high - y])
    cut = (mutant.thickness < plate.thickness - CUT)[rows]
    cut &= ~(reference.thickness < reference.order.setup.plate.thickness - CUT)[rows]
    framing = cut & (mutant.sights.role[rows] == WASTE) & (edge < wide)
    yield from _worst("the plate's frame cut", framing, wide - edge, Band(low=0.0, high=harm.FRAME))


def _necks(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield how the necks along the wall differ in thickness."""
    for at, before, after in _runs(reference, mutant, NECK):
        necked = (before > METAL) & (before < reference.order.tabs.neck + METAL)
        if necked.any():
            yield from _neck(at[necked], before[necked], after[necked])
            yield from most_of("a neck that takes more to snap", _modulus(at, after, reference)
                               / _modulus(at, before, reference), harm.SNAPS)  # fmt: skip


def _modulus(at: Floats, thickness: Floats, reference: Field) -> Floats:
    """Return six times a neck's section modulus, (1,) mm3: its thicknesses squared over its width."""
    thin = np.where(thickness < reference.order.tabs.neck + METAL, thickness, 0.0)
    return np.array([np.sum(np.gradient(at) * thin**2)])


def _overhang(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield ends of the blade that hang out farther beyond the last tab than they did."""
    before, after = _hanging(reference), _hanging(mutant)
    if after > before + harm.HANGS_MORE:
        yield from most_of("an end hangs out", np.array([after]), harm.HANGS)


def _hanging(field: Field) -> float:
    """Return how far an end lies beyond the last tab, along the line between both ends, mm."""
    sights = field.sights
    blade, held = sights.role == SOLID, (sights.role == TAB) & (field.thickness > METAL)
    if not held.any():
        return 0.0  # it hangs nowhere: it is loose
    at = np.column_stack([sights.x, sights.y])
    first = at[blade][np.argmax(np.hypot(*(at[blade] - at[blade][0]).T))]
    second = at[blade][np.argmax(np.hypot(*(at[blade] - first).T))]
    way = (second - first) / np.hypot(*(second - first))
    tabs = (at[held] - first) @ way
    return float(max(tabs.min(), np.hypot(*(second - first)) - tabs.max()))


def _neck(at: Floats, before: Floats, after: Floats) -> Iterator[Effect]:
    """Yield another thickness midway; beside it, where only the neck's width changes, it is near."""
    core, off = _core(at, before > before.max() - METAL), np.abs(after - before)
    yield from _worst("a neck of another thickness", core, off, harm.TAB_THICKNESS)
    flank = Band(low=harm.TAB_THICKNESS.low, high=np.inf)
    yield from _worst("a neck of another width", ~core, off, flank)


def _core(at: Floats, held: Bools) -> Bools:
    """Return which places lie midway in the stretch that is held."""
    low, high = at[held].min(), at[held].max()
    inset = MIDDLE * (high - low)
    return np.asarray((at >= low + inset) & (at <= high - inset))


def _tabs(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield how each tab differs in thickness and in width midway across the trench."""
    for at, before, after in _runs(reference, mutant, TAB):
        if (before > METAL).any():
            yield from _tab(at, before, after)


def _runs(reference: Field, mutant: Field, role: int) -> Iterator[tuple[Floats, Floats, Floats]]:
    """Yield station and thickness before and after, in mm, of each tab's sights of a role that
    differ."""
    rows = np.flatnonzero(reference.sights.role == role)
    rows = rows[np.argsort(reference.sights.station[rows])]
    at = reference.sights.station[rows]
    before, after = reference.thickness[rows], mutant.thickness[rows]
    ends = np.flatnonzero(np.diff(at) > BESIDE_TAB) + 1
    for part in np.split(np.arange(len(rows)), ends):
        if not np.array_equal(before[part], after[part]):
            yield at[part], before[part], after[part]


def _tab(at: Floats, before: Floats, after: Floats) -> Iterator[Effect]:
    widths = np.gradient(at) if len(at) > 1 else np.ones(1)
    wide = [float(widths[t > METAL].sum()) for t in (before, after)]
    core = _core(at, before > METAL)
    off = float(np.abs(after[core] - before[core]).max()) if core.any() else 0.0
    for what, amount, band in (
        ("a tab of another thickness", off, harm.TAB_THICKNESS),
        ("a tab narrower", wide[0] - wide[1], harm.TAB_NARROWER),
        ("a tab wider", wide[1] - wide[0], harm.TAB_WIDER),
    ):
        grade = band.of(amount)
        if grade != HARMLESS:
            yield Effect(grade=grade, what=what, amount=amount)


def graded(found: list[Effect]) -> str:
    """Return the worst class among effects."""
    grades = {effect.grade for effect in found}
    return HARMFUL if HARMFUL in grades else NEAR if NEAR in grades else HARMLESS
