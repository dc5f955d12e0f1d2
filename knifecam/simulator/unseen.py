"""What no simulator sees, and what this one could not judge this time."""

from __future__ import annotations

import numpy as np

from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.columns import SURE
from knifecam.simulator.side import Side
from knifecam.simulator.stop_text import unread_stops

NEVER = (
    "chips or a burr under the plate, which lift it on side B",
    "bow of the plate that is relieved when it is opened",
    "a cutter pulled out of its collet, worn, chipped or running out",
    "chips packed in the trench",
    "a wrong length or work offset typed at the mill, or a wrong cutter in the spindle",
    "cutter force, deflection and heat",
)


def _lowest_rapid(side: Side) -> float:
    """Return how far above the plate the lowest rapid sideways runs, mm."""
    m = side.motions
    across = side.rapid & (np.hypot(*(m.stop - m.start)[:, :2].T) > 0.0)
    height = np.minimum(m.start, m.stop)[across, 2].min(initial=np.inf) - side.face
    return round(float(height), 3)


def not_judged(case: Case, *, only_sights: bool = False) -> tuple[str, ...]:
    """Return plain sentences."""
    rows: list[str] = []
    unread = {name for name, _ in case.unread}
    for name, side in zip("AB", case.sides, strict=True):
        if side is None:
            why = "its program could not be read" if name in unread else "no program was given"
            rows.append(f"side {name}: {why}")
    if not case.whole:
        rows.append("tabs, the meeting of both sides, and bores opened from the other side")
        if case.order.blade.bevels:
            rows.append("the land along the edge, and whether both sides' bevels mirror each other")
    mill = case.order.setup.mill
    for side in case.given():
        if mill.machine_zero is None or mill.machine_zero["AB".index(side.name)] is None:
            rows.append(
                f"travel against machine limits on side {side.name}: machine zero is not known; "
                f"only its extent was judged"
            )
        if silent := unread_stops(side):
            rows.append(silent)
        gauge = case.order.setup.gauge
        if (side.trace.cutter == gauge).any():
            rows.append(f"where the gauge pin, number {gauge}, goes on side {side.name}")
        if not any(box.side == side.name for box in case.order.setup.keep_out):
            rows.append(
                f"clamps on side {side.name}: the order names none; nothing may stand higher than"
                f" {mm(_lowest_rapid(side)):g} above the plate, or where a cut goes"
            )
    for ground in case.grounds:
        if not any(len(line.cusps) > 2 for line in ground.lines):
            rows.append(
                f"cusps from pass to pass of bevel {ground.bevel.name} on side {ground.side}: its "
                f"lines cross no two of them; what stays above it anywhere was judged"
            )
    if case.order.setup.hold.tip_clamp:
        rows.append(
            "the clamp of the maker's own on the far end: where it stands and what meets it"
        )
    if not only_sights and case.grid.cell > SURE and not case.coarse:
        rows.append(
            f"what lies between cells of {mm(case.grid.cell):g}: those of {mm(SURE):g}, by which"
            " findings are made, do not fit into the memory at hand"
        )
    if only_sights:
        rows.append("everything that wants a fine grid: contact, feeds in metal, depths, hands")
    return (*rows, *NEVER)
