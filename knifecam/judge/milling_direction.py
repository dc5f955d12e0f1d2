"""Climb or conventional: walls, notches and edge breaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, circle, distance, signed_distance
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, first_and_worst
from knifecam.judge.judge_limits import (
    BOTH_WALLS_MM,
    LEAST_CUT_MM2,
    ROUNDED_DEPTH_MM,
    SIDE_PROBE_MM,
)
from knifecam.judge.rapids_and_entry import judged_steps
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import ON_WALL_MM, WALL_OFF_MM
from knifecam.measure.measured_openings import MeasuredNotch
from knifecam.measure.step_stages import web_over_void
from knifecam.quantity import mm
from knifecam.shop.cutter import CHAMFER
from knifecam.sweep.side_frames import seen_from
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


Bools = NDArray[np.bool_]


INSIDE_SIGN, OUTSIDE_SIGN = 1.0, -1.0
"""Signs of the distance from a closed curve."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Finishing:
    """The steps of a side that finish a wanted wall: row numbers, and whether it is on the left."""

    rows: NDArray[np.int64]
    left: Bools


def find_climb(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds conventional and both-walls."""
    for side in case.given():
        if side.swept is None or not len(side.swept.engagement):
            continue
        rows = judged_steps(case, side)
        outline = seen_from(side.frame, case.wanted.outline)
        on_outline = finishing_steps(side, rows, outline, stands=OUTSIDE_SIGN)
        on_outline = _off_notches(case, side, rows, on_outline)
        yield from conventional_findings(side, rows, on_outline.rows[on_outline.left], "the blade")
        yield from _both(case, side, rows, _off_corners(rows, on_outline, outline), "the blade")
        for opening in case.openings:
            curve = seen_from(side.frame, opening.outline)
            past = float(opening.past["AB".index(side.name)].max()) - WALL_OFF_MM
            on_wall = finishing_steps(side, rows, curve, stands=INSIDE_SIGN, past=past)
            yield from conventional_findings(
                side, rows, on_wall.rows[on_wall.left], f"the wall of {opening.name}"
            )
            if opening.fitted and side.name == "A":
                off = _off_corners(rows, on_wall, curve)
                yield from _both(case, side, rows, off, opening.name)


def finishing_steps(
    side: SideProgram, rows: ContactSteps, wall: Curve, *, stands: float, past: float = 0.0
) -> Finishing:
    """Return the steps that take metal with the axis at the cutter's radius from ``wall``.

    ``stands``: whether the axis stands `OUTSIDE_SIGN` or `INSIDE_SIGN` the closed curve. ``past`` mm: how
    much further the cutter may reach, as where side B opens a skin wider by the relief.
    """
    tried = _near(side, rows, wall)
    radius = side.shapes.radius[rows.motion]
    if not len(tried):
        return Finishing(rows=tried, left=np.zeros(0, bool))
    from_wall = distance(rows.at[tried], wall)
    over = radius[tried] - from_wall
    on_wall = (over >= -ON_WALL_MM) & (over <= past + ON_WALL_MM)
    rightly = np.flatnonzero(on_wall)
    on_wall[rightly] = stands * signed_distance(rows.at[tried[rightly]], wall) > 0.0
    tried, from_wall = tried[on_wall], from_wall[on_wall]
    if not len(tried):
        return Finishing(rows=tried, left=np.zeros(0, bool))
    heading = rows.heading[tried]
    aside = SIDE_PROBE_MM * np.stack([-heading[:, 1], heading[:, 0]], axis=1)
    left, right = (from_wall - distance(rows.at[tried] + way, wall) for way in (aside, -aside))
    # between the walls of an inner corner the cutter comes nearer to one of them on either side
    decided = (left > SIDE_PROBE_MM / 2) != (right > SIDE_PROBE_MM / 2)
    return Finishing(rows=tried[decided], left=left[decided] > SIDE_PROBE_MM / 2)


def _near(side: SideProgram, rows: ContactSteps, wall: Curve) -> NDArray[np.int64]:
    """Return the steps that take metal with the axis within the cutter's radius of a curve's box."""
    low_x, low_y, high_x, high_y = wall.bounds
    widest = float(side.shapes.radius.max(initial=0.0)) + ON_WALL_MM
    x, y = rows.at.T
    about = np.flatnonzero(
        (x > low_x - widest) & (x < high_x + widest) & (y > low_y - widest) & (y < high_y + widest)
    )
    e = rows.engagement
    met = np.maximum(e.front, np.maximum(e.left, e.right)) > ROUNDED_DEPTH_MM
    about = about[(met & rows.cutting(LEAST_CUT_MM2) & rows.moving)[about]]
    about = about[~side.rapid[rows.motion[about]]]
    x, y, grown = x[about], y[about], side.shapes.radius[rows.motion[about]] + ON_WALL_MM
    near = (x > low_x - grown) & (x < high_x + grown) & (y > low_y - grown) & (y < high_y + grown)
    return about[near]


def _off_notches(
    case: Case, side: SideProgram, rows: ContactSteps, finishing: Finishing
) -> Finishing:
    """Return the steps but those of a cutter that stands wholly inside a notch of the jimping."""
    apart = np.ones(len(finishing.rows), bool)
    radius = side.shapes.radius[rows.motion[finishing.rows]]
    at = rows.at[finishing.rows] * side.frame.signs[:2]
    for row in case.order.blade.jimping:
        for centre in row.centres:
            away = np.hypot(*(at - np.array(centre)).T) + radius
            apart &= away > row.diameter / 2 + ON_WALL_MM
    return Finishing(rows=finishing.rows[apart], left=finishing.left[apart])


def _off_corners(rows: ContactSteps, finishing: Finishing, wall: Curve) -> Finishing:
    """Return the steps but those that end in an inner corner: the far side there is the same wall.

    At the end of such a step the distance to the wall shrinks toward the far side, where it grows
    beside one wall.
    """
    at, heading = rows.at[finishing.rows], rows.heading[finishing.rows]
    end = at + rows.run[finishing.rows, None] / 2 * heading
    far = np.where(finishing.left, 1.0, -1.0)[:, None]
    aside = SIDE_PROBE_MM * far * np.stack([heading[:, 1], -heading[:, 0]], axis=1)
    off = distance(end + aside, wall) >= distance(end, wall)
    return Finishing(rows=finishing.rows[off], left=finishing.left[off])


def conventional_findings(
    side: SideProgram, rows: ContactSteps, hits: NDArray[np.int64], what: str
) -> Iterator[Finding]:
    """Yield that these steps have ``what`` on the left of travel."""

    def tell(_: int) -> Message:
        return f"finishes with {what} on the left of travel, conventionally", None, None

    yield from first_and_worst(
        Kind.CONVENTIONAL, side, rows.motion[hits], tell=tell, places=rows.place[hits],
    )  # fmt: skip


def _both(
    case: Case, side: SideProgram, rows: ContactSteps, finishing: Finishing, what: str
) -> Iterator[Finding]:
    e = rows.engagement
    far = np.where(finishing.left, e.right[finishing.rows], e.left[finishing.rows])
    much = far > case.near(0.0, BOTH_WALLS_MM)
    hits, depth = finishing.rows[much], far[much]
    bad = ~web_over_void(case.order, side, case.grid, rows, hits, depth)
    hits, depth = hits[bad], depth[bad]

    def tell(k: int) -> Message:
        found = float(depth[k])
        sentence = (
            f"finishes {what} and meets {mm(found):.3f} of metal on the far side as well; "
            f"{mm(BOTH_WALLS_MM):g} is allowed"
        )
        return sentence, found, BOTH_WALLS_MM

    yield from first_and_worst(
        Kind.BOTH_WALLS, side, rows.motion[hits], tell=tell, badness=depth, places=rows.place[hits],
    )  # fmt: skip


def finishing_length(side: SideProgram, case: Case) -> float:
    """Return how far a side's cutters travel in metal along the outline's wall, mm."""
    if side.swept is None or not len(side.swept.engagement):
        return 0.0
    rows = side.steps
    outline = seen_from(side.frame, case.wanted.outline)
    on_outline = finishing_steps(side, rows, outline, stands=OUTSIDE_SIGN)
    return float(rows.engagement.length[on_outline.rows].sum())


Ints = NDArray[np.int64]


def find_climb_detail(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind conventional for notches and edge breaks."""
    for side in case.given():
        if side.swept is None or not len(side.swept.engagement):
            continue
        rows = judged_steps(case, side)
        for notch in case.notches:
            wall = seen_from(
                side.frame, circle(notch.row.centres[notch.number - 1], notch.row.diameter)
            )
            what = f"the wall of notch {notch.number} of jimping {notch.row.name}"
            done = finishing_steps(side, rows, wall, stands=INSIDE_SIGN)
            hits = done.rows[done.left]
            on_blade = _touching_blade(case, side, rows.at[hits], notch)
            yield from conventional_findings(side, rows, hits[on_blade], what)
        yield from _breaks(case, side, rows)


def _touching_blade(
    case: Case, side: SideProgram, at: Floats, notch: MeasuredNotch
) -> NDArray[np.bool_]:
    """Return which axes inside a notch touch its wall where that is the blade's, not in the waste."""
    centre = np.array(notch.row.centres[notch.number - 1])
    away = at * side.frame.signs[:2] - centre
    length = np.maximum(np.hypot(*away.T), 1e-9)[:, None]
    touched = centre + away / length * notch.row.diameter / 2
    return np.asarray(INSIDE_SIGN * signed_distance(touched, case.wanted.outline) > 0.0)


def _breaks(case: Case, side: SideProgram, rows: ContactSteps) -> Iterator[Finding]:
    """Yield where a chamfer mill has the edge it breaks on its left."""
    if not any(one.side == side.name for one in case.order.blade.breaks):
        return
    steps = _of_chamfer_mills(case, side, rows)
    if not len(steps):
        return
    walls = [("the outline", OUTSIDE_SIGN, case.wanted.outline)]
    walls += [(one.name, INSIDE_SIGN, one.outline) for one in case.openings]
    seen = [(name, stands, seen_from(side.frame, curve)) for name, stands, curve in walls]
    nearest = np.argmin([distance(rows.at[steps], curve) for _, _, curve in seen], axis=0)
    for k, (name, stands, curve) in enumerate(seen):
        mine = steps[nearest == k]
        left = mine[_blade_on_left(rows, mine, curve, stands)] if len(mine) else mine
        yield from conventional_findings(side, rows, left, f"the edge of {name} that it breaks")


def _of_chamfer_mills(case: Case, side: SideProgram, rows: ContactSteps) -> Ints:
    """Return the steps in which a chamfer mill moves sideways in metal."""
    numbers = [c.number for c in case.order.cutters if c.kind == CHAMFER]
    moving = rows.moving & ~side.rapid[rows.motion]
    return np.flatnonzero(
        rows.cutting(LEAST_CUT_MM2) & moving & np.isin(side.trace.cutter[rows.motion], numbers)
    )


def _blade_on_left(
    rows: ContactSteps, steps: Ints, wall: Curve, stands: float
) -> NDArray[np.bool_]:
    """Return whether the blade is nearer a little to the left of each step's axis.

    The cone's axis may stand on either side of the wall, so that its distance has a sign; where it
    moves rather toward or off the wall than along it, no direction is told.
    """
    heading = rows.heading[steps]
    aside = rows.at[steps] + SIDE_PROBE_MM * np.stack([-heading[:, 1], heading[:, 0]], axis=1)
    inward: Floats = signed_distance(aside, wall) - signed_distance(rows.at[steps], wall)
    return np.asarray(-stands * inward > SIDE_PROBE_MM / 2)
