"""The always-on rerun: another thickness, a wedge, side B's Z zero a little off.

Heights are counted from each side's own reference. Where A's cut ends w above side B's face and
B's v above side A's face, a plate of thickness T(x) keeps w + v - T(x) between them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, at_line, at_motion, rounded_place
from knifecam.judge.judge_limits import (
    HEIGHT_SLACK_MM,
    PLATE_TAPER_MM,
    PLATE_THICKER_MM,
    TAB_THICKNESS_MM,
    THICKEST_TAB_MM,
    THINNEST_TAB_MM,
    Z_ZERO_OFF_MM,
)
from knifecam.measure.case import Case, on_stub
from knifecam.measure.measure_limits import LINE_UP_MM, WALL_OFF_MM
from knifecam.quantity import bare, mm
from knifecam.shop import Setup
from knifecam.sweep.exact_walls import wall_error
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

Place = TypeVar("Place", float, Floats)
"""One X or many, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """``thickness`` mm more everywhere, ``wedge`` mm more from the plate's low X end to the other,
    side B's Z zero set ``zero_high`` mm too high."""

    name: str
    thickness: float = 0.0
    wedge: float = 0.0
    zero_high: float = 0.0


DISTURBANCES = (
    Disturbance(name="as ordered"),
    Disturbance(
        name=f"if the plate is {mm(PLATE_THICKER_MM):g} thicker", thickness=PLATE_THICKER_MM
    ),
    Disturbance(
        name=f"if the plate is {mm(PLATE_THICKER_MM):g} thinner", thickness=-PLATE_THICKER_MM
    ),
    Disturbance(
        name=f"if the plate tapers by {mm(PLATE_TAPER_MM):g}, thicker toward +X",
        wedge=PLATE_TAPER_MM,
    ),
    Disturbance(
        name=f"if the plate tapers by {mm(PLATE_TAPER_MM):g}, thicker toward -X",
        wedge=-PLATE_TAPER_MM,
    ),
    Disturbance(
        name=f"if side B's Z is set {mm(Z_ZERO_OFF_MM):g} too high", zero_high=Z_ZERO_OFF_MM
    ),
    Disturbance(
        name=f"if side B's Z is set {mm(Z_ZERO_OFF_MM):g} too low", zero_high=-Z_ZERO_OFF_MM
    ),
)


def thicker_between(setup: Setup, case: Disturbance, x: float) -> float:
    """Return by how much metal between A's cut from above and B's from below grows at ``x``, mm."""
    both = sum(height_lost(setup, case, side) for side in "AB")
    return both - plate_thicker(setup, case, x)


def height_lost(setup: Setup, case: Disturbance, side: str) -> float:
    """Return by how much more a side's cut leaves above the fixture it is cut on, mm.

    Counted from the face it stays as deep under the face's height at the datum; counted from the
    fixture nothing of the plate moves it.
    """
    which = "AB".index(side)
    zero_high = case.zero_high if side == "B" else 0.0
    if setup.z_zero[which] != "face":
        return zero_high
    return zero_high + plate_thicker(setup, case, setup.datum[which][0])


def plate_thicker(setup: Setup, case: Disturbance, x: Place) -> Place:
    """Return by how much thicker the plate is at ``x`` mm, mm."""
    plate = setup.plate
    return case.thickness + case.wedge * ((x - plate.corner[0]) / plate.length - 0.5)


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind side-thickness."""
    blade, plate = case.order.blade.thickness, case.order.setup.plate.thickness
    if not abs(blade - plate) <= LINE_UP_MM:
        sentence = (
            f"blade thickness={mm(blade):g} and plate thickness={mm(plate):g} must be the same"
        )
        yield at_line(
            Kind.SIDE_THICKNESS, "A", 0, sentence, "no facing cut is made: order the plate's thickness",
            measured=abs(blade - plate), allowed=LINE_UP_MM,
        )  # fmt: skip
    for side in case.given():
        yield from _bed(case, side)
    if case.whole:
        yield from _tabs(case)
        yield from _meeting(case)


def _bed(case: Case, side: SideProgram) -> Iterator[Finding]:
    """Yield where a side whose tip stays above the fixture as ordered comes below it when disturbed."""
    setup = case.order.setup
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    depth = np.where(side.shapes.known, side.fixture - lowest - setup.fixture_allowance, -np.inf)
    if not len(depth) or depth.max() > HEIGHT_SLACK_MM:
        return
    worst = min(DISTURBANCES, key=lambda d: height_lost(setup, d, side.name))
    found = float(depth.max()) - height_lost(setup, worst, side.name)
    if not found > HEIGHT_SLACK_MM:
        return
    k = int(np.argmax(depth))
    sentence = f"{worst.name}, the tip goes {mm(found):.3f} deeper than the fixture allows"
    remedy = f"leave a thicker skin over the fixture: {mm(0.25)} is usual"
    yield at_motion(Kind.SIDE_THICKNESS, side, k, (sentence, found, 0.0), remedy)


def tab_thickness(case: Case) -> dict[str, list[float]]:
    """Return the thickness of every tab, mm, under every disturbance."""
    setup = case.order.setup
    return {
        d.name: [b.thin + thicker_between(setup, d, b.place[0]) for b in case.bridges]
        for d in DISTURBANCES
    }


def _tabs(case: Case) -> Iterator[Finding]:
    """Yield the worst thickness of a tab that is as ordered while nothing is disturbed."""
    ordered = case.order.tabs.thickness
    rows = [
        (max(THINNEST_TAB_MM - t, t - THICKEST_TAB_MM), t, name, bridge)
        for name, found in tab_thickness(case).items()
        for t, bridge in zip(found, case.bridges, strict=True)
        if abs(bridge.thin - ordered) <= TAB_THICKNESS_MM
    ]
    off, found, name, bridge = max(rows, key=lambda r: r[0], default=(0.0, 0.0, "", None))
    if bridge is None or off <= HEIGHT_SLACK_MM:
        return
    limit = THINNEST_TAB_MM if found < THINNEST_TAB_MM else THICKEST_TAB_MM
    sentence = (
        f"{name}, the tab at station {mm(bridge.station):.1f} is {mm(found):.3f} thick; "
        f"{bare(THINNEST_TAB_MM):g} to {mm(THICKEST_TAB_MM):g} is allowed"
    )
    yield at_line(
        Kind.SIDE_THICKNESS, "B", 0, sentence, "order another tab thickness, or zero both Z alike",
        place=rounded_place([*bridge.place, bridge.top]), measured=found, allowed=limit,
    )  # fmt: skip


def _meeting(case: Case) -> Iterator[Finding]:
    """Judge the wall where the sides meet with side B's heights shifted by each disturbance."""
    upper, lower = case.wall.sides
    side = case.sides[1]
    if upper is None or lower is None or side is None:
        return
    wall, wanted = case.wall, case.wanted
    level = np.flatnonzero(
        (wall.heights > wanted.floor_a - 0.26) & (wall.heights < wanted.floor_b + 0.26)
    )
    both: Bools = np.logical_and(upper.reachable, lower.reachable)
    judged = both[None, :] & ~on_stub(case)[level] & wall.there[level]
    nominal = np.where(judged, wall.left[level], -np.inf)
    sound: Bools = np.asarray((nominal <= WALL_OFF_MM).all(axis=0))
    lowest = {d.name: _shift(case, d) for d in DISTURBANCES[1:]}
    name = min(lowest, key=lambda key: lowest[key])
    shift = lowest[name]
    if not shift < 0:
        return
    # side B ends lower by the shift: at a height it has what it had that much further up
    points = wall.points * side.frame.signs[:2]
    error, motion = wall_error(
        points, -(wall.heights[level] - shift), side.swept_motions(), side.cutter_radius,
        side.shapes.corner, tip=side.shapes.tip, half_angle=side.shapes.half_angle,
    )  # fmt: skip
    left = np.where(judged & sound[None, :], np.minimum(upper.error[level], error), -np.inf)
    if not left.max() > WALL_OFF_MM:
        return
    h, k = np.unravel_index(int(np.argmax(left)), left.shape)
    found = float(left[h, k])
    amount = f"{mm(found):.3f}" if np.isfinite(found) else f"more than {mm(0.5)}"
    line = int(side.trace.line[motion[h, k]]) if motion[h, k] >= 0 else 0
    sentence = f"{name}, the sides do not meet: {amount} stays on the wall"
    yield at_line(
        Kind.SIDE_THICKNESS, "B", line, sentence, "let the sides overlap more",
        place=rounded_place([*wall.points[k], wall.heights[level[h]]]),
        measured=found if np.isfinite(found) else None, allowed=WALL_OFF_MM,
    )  # fmt: skip


def _shift(case: Case, disturbance: Disturbance) -> float:
    """Return the part height by which side B's cut moves toward side A, at its least, mm."""
    x_low, _, x_high, _ = case.wanted.outline.bounds
    setup = case.order.setup
    return min(-thicker_between(setup, disturbance, x) for x in (x_low, x_high))
