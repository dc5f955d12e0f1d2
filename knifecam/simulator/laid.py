"""Motions laid out as the steps they are swept in, and what those met put together again."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.simulator import kernel
from knifecam.simulator.forms import Forms

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]

STEEPEST_STEP = np.pi / 6
"""rad: no step turns further along an arc."""

UPRIGHT = 1e-9
"""mm: what goes less far sideways is upright, and only its lowest place counts."""


class Laid(NamedTuple):
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
        return np.asarray(self.table[:, kernel.Step._fields.index(name)])


def least_parts(motions: Motions) -> Ints:
    """Return in how many steps each motion is cut at least, (M,)."""
    turned = np.where(motions.kind == ARC, 2 * np.pi * np.abs(motions.turns), 0.0)
    return np.maximum(1.0, np.ceil(turned / STEEPEST_STEP - 1e-9)).astype(np.int32)


def lay(motions: Motions, forms: Forms, parts: Ints, plane: Floats, sense: float) -> Laid:
    """Return the steps of ``motions``, whose X and Y are multiplied by ``plane``.

    Parameters
    ----------
    motions : Motions
        In the side's own frame.
    forms : Forms
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
    figures = {name: np.zeros(len(motion)) for name in kernel.Step._fields} | _lines(a, b)
    turning = np.flatnonzero((motions.kind == ARC)[motion])
    arcs, wide = _arcs(motions, plane, sense, motion[turning], f[turning], g[turning])
    rows = turning[wide]
    arcs |= {"az": a[turning, 2], "bz": b[turning, 2]}
    arcs["slope"] = (b[turning, 2] - a[turning, 2]) / arcs["angle"]
    for name, found in arcs.items():
        figures[name][rows] = found[wide]
    follows = _follows(start, stop, forms)[motion] | (part > 0)
    nought = np.zeros(len(motion))
    table = np.column_stack([
        *figures.values(), forms.radius[motion], forms.flat[motion], forms.rise[motion],
        follows, begin + rise, nought, nought, motion,
    ])  # fmt: skip
    flat = np.where(figures["path"] > 0.0, figures["path"] * figures["angle"], figures["length"])
    length = np.sqrt(flat * flat + rise * rise)
    return Laid(table, motion, _middles(figures, begin + 0.5 * rise), length)


def _lines(a: Floats, b: Floats) -> dict[str, Floats]:
    """Return the figures of steps along lines from a to b, (S, 3) each."""
    way = b - a
    length = np.sqrt(way[:, 0] * way[:, 0] + way[:, 1] * way[:, 1])
    upright = length < UPRIGHT
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
    """Return the figures of steps along arcs, from the shares f to g of each, and which are wide.

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
    wide = mean * angle > UPRIGHT
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


def _follows(start: Floats, stop: Floats, forms: Forms) -> Bools:
    """Return which motions begin where the one before ended, with the same cutter."""
    same = np.all(start[1:] == stop[:-1], axis=1)
    for figure in forms:
        same &= figure[1:] == figure[:-1]
    return np.append(False, same) if len(start) else np.zeros(0, bool)


def _middles(figures: dict[str, Floats], z: Floats) -> Floats:
    """Return the tip's places at the middle of steps."""
    x, y = (0.5 * (figures["a" + axis] + figures["b" + axis]) for axis in "xy")
    path, sag = figures["path"], figures["sag"]
    scale = np.where(path > 0.0, path / np.where(path > 0.0, path - sag, 1.0), 1.0)
    cx, cy = figures["cx"], figures["cy"]
    return np.column_stack([cx + (x - cx) * scale, cy + (y - cy) * scale, z])
