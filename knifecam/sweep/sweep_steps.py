"""Motions laid out as steps, the blocks of columns that they reach, and what they met."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.cutting import Engagement
from knifecam.sweep import column_kernel
from knifecam.sweep.cutter_profile import CutterProfile
from knifecam.sweep.side_frames import Frame, to_part
from knifecam.sweep.sweep_limits import (
    BEFORE_RIM_CELLS,
    STEEPEST_STEP_RAD,
    UNDER_RIM_MM,
    UPRIGHT_MM,
)

Floats = NDArray[np.float64]


Ints = NDArray[np.int32]


Bools = NDArray[np.bool_]


class SweepSteps(NamedTuple):
    """Steps in the plane of the part, heights in the cutting side's frame.

    ``table`` (S, `kernel.TABLE`) is what the sweeps read; ``place`` (S, 3) mm the tip at the middle
    of each; ``length`` (S,) mm; ``motion`` (S,) which motion each belongs to.
    """

    table: Floats
    motion: Ints
    place: Floats
    length: Floats

    def column(self, name: str) -> Floats:
        """Return one figure of each step, (S,), by its name in `kernel.Step`."""
        return np.asarray(self.table[:, column_kernel.Step._fields.index(name)])


def least_steps(motions: Motions) -> Ints:
    """Return in how many steps each motion is cut at least, (M,)."""
    turned = np.where(motions.kind == ARC, 2 * np.pi * np.abs(motions.turns), 0.0)
    return np.maximum(1.0, np.ceil(turned / STEEPEST_STEP_RAD - 1e-9)).astype(np.int32)


def sweep_steps(
    motions: Motions, forms: CutterProfile, parts: Ints, plane: Floats, sense: float
) -> SweepSteps:
    """Return the steps of ``motions``, whose X and Y are multiplied by ``plane``.

    Parameters
    ----------
    motions : Motions
        In the side's own frame.
    forms : CutterProfile
    parts : (M,) int32
        How many steps each is cut in.
    plane : (2,) float
        Signs of X and Y in the part frame.
    sense : float
        -1 where that mirrors the plane.
    """
    motion = np.repeat(np.arange(len(parts), dtype=np.int32), parts)
    part = np.arange(len(motion)) - np.repeat(np.cumsum(parts) - parts, parts)
    count = parts[motion]
    f, g = part / count, (part + 1) / count
    start, stop = motions.start * np.append(plane, 1.0), motions.stop * np.append(plane, 1.0)
    a = start[motion] + f[:, None] * (stop - start)[motion]
    b = start[motion] + g[:, None] * (stop - start)[motion]
    b = np.where((g == 1.0)[:, None], stop[motion], b)
    rise = ((stop - start)[:, 2] / parts)[motion]
    begin = start[motion, 2] + part * rise
    values = {name: np.zeros(len(motion)) for name in column_kernel.Step._fields} | _lines(a, b)
    turning = np.flatnonzero((motions.kind == ARC)[motion])
    arcs, wide = _arcs(motions, plane, sense, motion[turning], f[turning], g[turning])
    rows = turning[wide]
    arcs |= {"az": a[turning, 2], "bz": b[turning, 2]}
    arcs["slope"] = (b[turning, 2] - a[turning, 2]) / arcs["angle"]
    for name, found in arcs.items():
        values[name][rows] = found[wide]
    follows = _follows(start, stop, forms)[motion] | (part > 0)
    nought = np.zeros(len(motion))
    table = np.column_stack([
        *values.values(), forms.radius[motion], forms.flat[motion], forms.rise[motion],
        follows, begin + rise, nought, nought, motion,
    ])  # fmt: skip
    flat = np.where(values["path"] > 0.0, values["path"] * values["angle"], values["length"])
    length = np.sqrt(flat * flat + rise * rise)
    return SweepSteps(table, motion, _middles(values, begin + 0.5 * rise), length)


def _lines(a: Floats, b: Floats) -> dict[str, Floats]:
    """Return the values of steps along lines from a to b, (S, 3) each."""
    way = b - a
    length = np.sqrt(way[:, 0] * way[:, 0] + way[:, 1] * way[:, 1])
    upright = length < UPRIGHT_MM
    span = np.where(upright, 1.0, length)
    low = np.minimum(a[:, 2], b[:, 2])
    return {
        "ax": a[:, 0].copy(), "ay": a[:, 1].copy(), "az": np.where(upright, low, a[:, 2]),
        "bx": np.where(upright, a[:, 0], b[:, 0]), "by": np.where(upright, a[:, 1], b[:, 1]),
        "bz": np.where(upright, low, b[:, 2]),
        "ux": np.where(upright, 1.0, way[:, 0] / span), "uy": np.where(upright, 0.0, way[:, 1] / span),
        "length": np.where(upright, 0.0, length), "slope": np.where(upright, 0.0, way[:, 2] / span),
        "cx": a[:, 0].copy(), "cy": a[:, 1].copy(), "sense": np.ones(len(a)),
    }  # fmt: skip


def _arcs(
    motions: Motions, plane: Floats, sense: float, motion: Ints, f: Floats, g: Floats
) -> tuple[dict[str, Floats], Bools]:
    """Return the values of steps along arcs, from the shares f to g of each, and which are wide.

    Where the radii at an arc's ends differ, as they do by a rounded digit, each step is the arc
    through its own two ends: it begins where the one before ended, and the last ends at the stop.
    """
    centre = motions.centre * plane
    arm = motions.start[:, :2] * plane - centre
    first = np.hypot(*arm.T)
    last = np.hypot(*(motions.stop[:, :2] * plane - centre).T)
    begin = np.arctan2(arm[:, 1], arm[:, 0])[motion]
    turn = (2.0 * np.pi * motions.turns * sense)[motion]
    angle = np.abs(turn) * (g - f)
    near = angle <= np.pi  # else a whole turn at once, which has no chord
    grown = (last - first)[motion]
    mean = first[motion] + grown * 0.5 * (f + g)
    wide = mean * angle > UPRIGHT_MM
    mean, angle = np.where(wide, mean, 1.0), np.where(wide, angle, 1.0)
    before, after = (
        mean + grown * np.where(near, share, 0.0) for share in (0.5 * (f - g), 0.5 * (g - f))
    )
    cx, cy = centre[motion].T
    ax, ay = cx + before * np.cos(begin + f * turn), cy + before * np.sin(begin + f * turn)
    bx, by = cx + after * np.cos(begin + g * turn), cy + after * np.sin(begin + g * turn)
    path = np.where(near, 0.5 * np.hypot(bx - ax, by - ay) / np.sin(0.5 * angle), mean)
    path, turned = np.where(wide, path, 1.0), np.where(turn > 0.0, 1.0, -1.0)
    chord, arm = 2.0 * path * np.sin(0.5 * angle), turned * path * np.cos(0.5 * angle)
    ux, uy = (bx - ax) / chord, (by - ay) / chord
    return {
        "ax": ax, "ay": ay, "bx": bx, "by": by, "ux": ux, "uy": uy, "length": chord,
        "cx": np.where(near, 0.5 * (ax + bx) - arm * uy, cx),
        "cy": np.where(near, 0.5 * (ay + by) + arm * ux, cy),
        "path": path, "angle": angle, "sense": turned, "sag": path * (1.0 - np.cos(0.5 * angle)),
    }, wide  # fmt: skip


def _follows(start: Floats, stop: Floats, forms: CutterProfile) -> Bools:
    """Return which motions begin where the one before ended, with the same cutter."""
    same = np.all(start[1:] == stop[:-1], axis=1)
    for figure in forms:
        same &= figure[1:] == figure[:-1]
    return np.append(False, same) if len(start) else np.zeros(0, bool)


def _middles(values: dict[str, Floats], z: Floats) -> Floats:
    """Return the tip's places at the middle of steps."""
    x, y = (0.5 * (values["a" + axis] + values["b" + axis]) for axis in "xy")
    path, sag = values["path"], values["sag"]
    scale = np.where(path > 0.0, path / np.where(path > 0.0, path - sag, 1.0), 1.0)
    cx, cy = values["cx"], values["cy"]
    return np.column_stack([cx + (x - cx) * scale, cy + (y - cy) * scale, z])


@dataclass(frozen=True, eq=False, kw_only=True)
class ContactSteps:
    """The steps of a side's engagement, with directions.

    ``motion`` (S,); ``place`` (S, 3) in the part frame and ``at`` (S, 2) in the side frame, mm;
    ``heading`` (S, 2) unit vectors in the side frame, 0 for motions along Z; ``fall`` (S,) rad
    below the horizontal, a quarter turn for motions straight down.
    """

    engagement: Engagement
    motion: NDArray[np.int32]
    place: Floats
    at: Floats
    heading: Floats
    fall: Floats

    @cached_property
    def moving(self) -> NDArray[np.bool_]:
        """(S,): which steps go sideways."""
        return np.asarray((self.heading[:, 0] != 0.0) | (self.heading[:, 1] != 0.0))

    @cached_property
    def run(self) -> Floats:
        """(S,): how long the steps are seen from above, mm."""
        return np.asarray(self.engagement.length * np.cos(self.fall))

    def cutting(self, scrape: float) -> NDArray[np.bool_]:
        """Return which steps take more than ``scrape`` mm2, (S,): mm3 a millimetre of their way."""
        return np.asarray(
            self.engagement.volume > scrape * np.maximum(self.engagement.length, 1e-9)
        )

    def chosen(self, rows: NDArray[np.bool_]) -> ContactSteps:
        """Return only some of the steps."""
        e = self.engagement
        return ContactSteps(
            engagement=Engagement(*(getattr(e, name)[rows] for name in e.__dataclass_fields__)),
            motion=self.motion[rows],
            place=self.place[rows],
            at=self.at[rows],
            heading=self.heading[rows],
            fall=self.fall[rows],
        )


def steps_of(motions: Motions, engagement: Engagement, frame: Frame) -> ContactSteps:
    """Return the steps in which ``motions`` were swept, both in the side frame."""
    motion = engagement.motion
    at = np.asarray(engagement.place[:, :2])
    return ContactSteps(
        engagement=engagement,
        motion=motion,
        place=to_part(frame, engagement.place),
        at=at,
        heading=_headings(motions, motion, at),
        fall=fall_angles(motions)[motion],
    )


def _headings(motions: Motions, motion: NDArray[np.int32], at: Floats) -> Floats:
    arc = motions.kind[motion] == ARC
    chord = motions.stop[motion, :2] - motions.start[motion, :2]
    arm = at - motions.centre[motion]
    along = np.sign(motions.turns[motion])[:, None] * np.stack([-arm[:, 1], arm[:, 0]], axis=1)
    way = np.where(arc[:, None], along, chord)
    size = np.hypot(*way.T)
    return np.where((size > UPRIGHT_MM)[:, None], way / np.maximum(size, UPRIGHT_MM)[:, None], 0.0)


def flat_lengths(motions: Motions) -> Floats:
    """Return the lengths of the motions seen from above, (M,) mm."""
    chord = np.hypot(*(motions.stop - motions.start)[:, :2].T)
    round_ = 2 * np.pi * np.abs(motions.turns) * motions.radii
    return np.asarray(np.where(motions.kind == ARC, round_, chord))


def fall_angles(motions: Motions) -> Floats:
    """Return how steeply the motions fall, (M,) rad; negative where they rise."""
    drop = motions.start[:, 2] - motions.stop[:, 2]
    return np.asarray(np.arctan2(drop, flat_lengths(motions)))


Longs = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class BlockLists:
    """Steps by blocks: ``step[begins[b]:begins[b + 1]]`` reach block b, in their order.

    ``shank`` (S,) mm: how far above the beginning of the shank the plate's face stands, negative
    where that is known without looking; else -inf.
    """

    step: Ints
    begins: Longs
    shank: Floats


def list_blocks(
    laid: SweepSteps, place: column_kernel.Place, face: float, reach: Floats, shank: Floats
) -> BlockLists:
    """List the steps that come below the plate's face by the blocks they reach.

    Parameters
    ----------
    laid : SweepSteps
        Its columns of the shank are filled in.
    place : kernel.Place
    face : float, mm
        Height of the highest metal.
    reach, shank : (M,) float, mm
        Height above the tip at which the shank begins, and its radius, of each motion's cutter.
    """
    table = laid.table
    radius, tip = table[:, column_kernel.STEP_RADIUS], table[:, column_kernel.STEP_TIP]
    reaches, shanks = reach[laid.motion], shank[laid.motion]
    start = laid.place[:, 2] - (tip - laid.place[:, 2])
    below = np.minimum(start, tip) < face
    thick = below & (shanks > radius)
    near = thick & (tip + reaches < face)
    table[:, column_kernel.STEP_REACH] = reaches
    table[:, column_kernel.STEP_LOOK] = np.where(near, shanks, 0.0)
    clear = np.where(thick & ~near, face - tip - reaches, -np.inf)
    boxes = _boxes(laid, place, below)
    step, begins = _by_block(boxes, place)
    return BlockLists(step, begins, clear)


def _boxes(laid: SweepSteps, place: column_kernel.Place, below: NDArray[np.bool_]) -> Longs:
    """Return the first and last blocks along X and Y of each step, (4, S); none if last < first."""
    radius, look = laid.table[:, column_kernel.STEP_RADIUS], laid.table[:, column_kernel.STEP_LOOK]
    cutter = radius + laid.column("sag") + UNDER_RIM_MM
    ring = np.maximum(radius + BEFORE_RIM_CELLS * place.cell, look) + place.cell
    edges, there = [], below
    for axis, origin, count in (("x", place.x0, place.nx), ("y", place.y0, place.ny)):
        a, b = laid.column("a" + axis), laid.column("b" + axis)
        low = np.ceil((np.minimum(np.minimum(a, b) - cutter, b - ring) - origin) * place.per_cell)
        high = np.floor((np.maximum(np.maximum(a, b) + cutter, b + ring) - origin) * place.per_cell)
        there = there & (low < count) & (high >= 0)
        edges += [np.maximum(low, 0), np.minimum(high, count - 1)]
    return np.where(there, np.array(edges) // column_kernel.BLOCK, [[0], [-1], [0], [-1]]).astype(
        np.int64
    )


def _by_block(boxes: Longs, place: column_kernel.Place) -> tuple[Ints, Longs]:
    left, right, low, high = boxes
    wide = right - left + 1
    count = wide * (high - low + 1)
    step = np.repeat(np.arange(len(count), dtype=np.int32), count)
    k = np.arange(len(step)) - np.repeat(np.cumsum(count) - count, count)
    across, up = -(-place.nx // column_kernel.BLOCK), -(-place.ny // column_kernel.BLOCK)
    block = (low[step] + k // wide[step]) * across + left[step] + k % wide[step]
    begins = np.append(0, np.cumsum(np.bincount(block, minlength=across * up)))
    small = block.astype(np.uint16 if across * up < 2**16 else np.int64)
    return step[np.argsort(small, kind="stable")], begins


@dataclass(frozen=True, eq=False)
class StepContact:
    """What steps met in all blocks, (S,) each, and how deep motions cut into what is guarded.

    Lengths in mm, ``volume`` in mm3, ``width`` in rad, ``gouge`` (M,) mm at ``place`` (M, 2), NaN
    for none. Left and right are seen in the plane of the part.
    """

    volume: Floats
    left: Floats
    front: Floats
    right: Floats
    width: Floats
    under: Floats
    tallest: Floats
    shank: Floats
    floor: Floats
    gouge: Floats
    place: Floats


def nothing_met(listed: BlockLists) -> Floats:
    """Return the values of steps that meet nothing, (`kernel.MET`, P): one for each block reached."""
    met = np.zeros((column_kernel.MET, len(listed.step)))
    met[[column_kernel.MET_HIGH, column_kernel.MET_WALL, column_kernel.MET_WALL_AT_SHANK]] = -np.inf
    met[column_kernel.MET_LOW] = np.inf
    return met


def step_contact(
    laid: SweepSteps, listed: BlockLists, met: Floats, cell: float, motions: int
) -> StepContact:
    """Put together what steps met in each block, (`kernel.MET`, P) in the order of ``listed``."""
    count = len(laid.motion)

    def extreme(figure: int, fold: np.ufunc, none: float) -> Floats:
        found = np.full(count, none)
        fold.at(found, listed.step, met[figure])
        return found

    left, front, right = (
        extreme(k, np.maximum, 0.0)
        for k in (column_kernel.MET_LEFTS, column_kernel.MET_FRONTS, column_kernel.MET_RIGHTS)
    )
    low, high = (
        extreme(column_kernel.MET_LOW, np.minimum, np.inf),
        extreme(column_kernel.MET_HIGH, np.maximum, -np.inf),
    )
    wall, beside = (
        extreme(k, np.maximum, -np.inf)
        for k in (column_kernel.MET_WALL, column_kernel.MET_WALL_AT_SHANK)
    )
    under = np.maximum(left, np.maximum(front, right))
    table = laid.table
    tip, look = table[:, column_kernel.STEP_TIP], table[:, column_kernel.STEP_LOOK]
    shank = beside - tip - table[:, column_kernel.STEP_REACH]
    gouge, place = _gouges(laid, listed, met, motions)
    return StepContact(
        volume=np.asarray(
            np.bincount(listed.step, met[column_kernel.MET_TAKEN], count) * cell**2, float
        ),
        left=left,
        front=front,
        right=right,
        width=_widths(low, high, under, cell, table),
        under=under,
        tallest=np.maximum(0.0, wall - tip),
        shank=np.where(look > 0.0, shank, listed.shank),
        floor=extreme(column_kernel.MET_OVER_VOID, np.minimum, np.inf),
        gouge=gouge,
        place=place,
    )


def _widths(low: Floats, high: Floats, under: Floats, cell: float, table: Floats) -> Floats:
    """Return the leading angles that meet metal; cells reach half their side past their centres."""
    radius, seen = table[:, column_kernel.STEP_RADIUS], high >= low
    to = np.minimum(1.0, (np.where(seen, high, 0.0) + 0.5 * cell) / radius)
    begin = np.maximum(-1.0, (np.where(seen, low, 0.0) - 0.5 * cell) / radius)
    across = np.arcsin(to) - np.arcsin(np.minimum(begin, 1.0))
    return np.where(seen, across, np.where(under > 0.0, np.pi, 0.0))


def _gouges(
    laid: SweepSteps, listed: BlockLists, met: Floats, motions: int
) -> tuple[Floats, Floats]:
    """Return the deepest cut of each motion into guarded columns, and where; the first of equals."""
    gouge, place = np.zeros(motions), np.full((motions, 2), np.nan)
    pairs = np.flatnonzero(met[column_kernel.MET_GOUGE] > 0.0)
    motion = laid.motion[listed.step[pairs]]
    order = np.lexsort((-met[column_kernel.MET_GOUGE, pairs], motion))
    which, first = np.unique(motion[order], return_index=True)
    deepest = pairs[order[first]]
    gouge[which] = met[column_kernel.MET_GOUGE, deepest]
    place[which] = met[[column_kernel.MET_GOUGE_X, column_kernel.MET_GOUGE_Y]][:, deepest].T
    return gouge, place
