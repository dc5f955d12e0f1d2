"""Whether a length is checked on bare plate: a block on cut ground bridges or drops.

Under the cutter nothing may have been cut on that side before the check, and nothing below it on
the other; the place lies in the border, clear of clamps by the holder and `CLAMP_GAP`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import signed_distance
from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.columns import Sights, sights
from knifecam.simulator.frame import to_part, to_side_plane
from knifecam.simulator.judge.gaps import why_no_length_check
from knifecam.simulator.judge.hit import LAST_DIGIT, at_line
from knifecam.simulator.judge.keep_out import CLAMP_GAP, clamp_gaps
from knifecam.simulator.seen import cut_by, near_motions
from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

RINGS, AROUND = (0.25, 0.5, 0.75, 1.0), 24
"""Places under a cutter that are looked at: shares of its radius, and how many on each circle."""

REMEDY = "check lengths over the plate's border, where nothing is cut on either side"


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind stop for length checks that stand on no bare plate."""
    for side in case.given():
        told = dict[tuple[float, float, str], list[tuple[Act, str]]]()
        for act, why in _wrong(side, case):
            x, y = side.motions.stop[act.before - 1, :2]
            told.setdefault((round(x, 3), round(y, 3), why.split("=")[0]), []).append((act, why))
        for same in told.values():
            act, why = same[0]
            more = f" (and {len(same) - 1} more there)" if len(same) > 1 else ""
            sentence = (
                f"the length of cutter {int(side.trace.cutter[act.before - 1])} is checked {why}"
            )
            yield at_line(
                "stop", side.name, act.line, sentence + more, REMEDY, place=_place(side, act)
            )


def _place(side: Side, act: Act) -> tuple[float, float, float]:
    x, y, z = (round(float(v), 4) + 0.0 for v in side.part_stop[act.before - 1])
    return x, y, z


def _wrong(side: Side, case: Case) -> Iterator[tuple[Act, str]]:
    """Yield each length check that stands where it should not, and why."""
    mill = case.order.setup.mill
    for act in side.trace.acts:
        if act.kind != "stop" or act.before < 1 or not side.shapes.known[act.before - 1]:
            continue
        height = float(side.motions.stop[act.before - 1, 2]) - side.face
        low = height < max(mill.change_height, mill.rapid_height) - LAST_DIGIT
        if low and not why_no_length_check(side, act, mill):
            why = _why_not_bare(side, act, case)
            if why:
                yield act, why


def _why_not_bare(side: Side, act: Act, case: Case) -> str:
    """Return why a check does not stand on bare plate; empty where it does."""
    order, motion = case.order, act.before - 1
    shapes = side.shapes
    places = _under(side, motion)
    x0, y0, x1, y1 = order.setup.plate.bounds
    x, y = places.T
    if not ((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)).all():
        return "beside the plate, or over its edge"
    if not (signed_distance(places, order.blade.outline) <= 0.0).all():
        return "over the blade"
    seen = _seen(case, side, places, motion)
    half = side.thickness / 2
    cut = half - seen.top if side.name == "A" else half + seen.bottom
    other = half + seen.bottom if side.name == "A" else half - seen.top
    for depth, what in ((cut, "over ground that is cut"), (other, "where it is cut from below")):
        if not depth.max() <= LAST_DIGIT:
            return f"{what}: depth={mm(depth.max()):.3f}"
    wide = max(float(w[motion]) for w in (shapes.holder, shapes.shank, shapes.radius))
    at = side.trace.motions.stop[motion, :2]
    for name, gap in clamp_gaps(side, order, at):
        if not gap >= wide + CLAMP_GAP - LAST_DIGIT:
            return (
                f"beside {name}: gap={mm(gap - wide):.3f} from the holder;"
                f" {mm(CLAMP_GAP):g} must stay"
            )
    return ""


def _under(side: Side, motion: int) -> np.ndarray:
    """Return places (K, 2) of the part under the cutter where a motion ends."""
    angles = np.arange(AROUND) * 2 * np.pi / AROUND
    ring = np.column_stack([np.cos(angles), np.sin(angles)])
    shares = np.concatenate([[[0.0, 0.0]], *(share * ring for share in RINGS)])
    at = to_side_plane(side.frame, side.trace.motions.stop[motion, :2])
    return to_part(side.frame, at + side.shapes.radius[motion] * shares)


def _seen(case: Case, side: Side, places: np.ndarray, motion: int) -> Sights:
    """Return sights there as all of side A, if it lies below, and this side so far, leave them."""
    seen = sights(places, case.order.setup.plate.thickness)
    for other in case.given():
        rows = near_motions(other, places)
        if other is side:
            cut_by(seen, other, case.order.setup.flip, rows[rows < motion])
        elif other.name == "A":
            cut_by(seen, other, case.order.setup.flip, rows)
    return seen
