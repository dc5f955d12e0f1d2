"""Where tabs meet the wall: the stubs, which no wall is wanted on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator.case import Case
from knifecam.simulator.measure_walls import BESIDE_FACE

BESIDE_TAB = 0.05
"""mm above and below a tab in which its wall is not judged, besides the cutters' corners."""


def on_stub(case: Case) -> NDArray[np.bool_]:
    """Return where heights and places of the outline's wall belong to a tab's stub, (H, n)."""
    wall, wanted = case.wall, case.wanted
    corner = max((float(s.shapes.corner.max(initial=0.0)) for s in case.given()), default=0.0)
    margin = BESIDE_TAB + corner + case.order.trench.clearance
    # the ramps carry the tab's lower face up past side A's floor
    high = wanted.floor_b + margin
    beside = np.zeros(len(wall.stations), bool)
    low = wanted.tab_low - margin
    for bridge in case.bridges:
        half = stub_half(case, bridge.waist)
        whole = wanted.outline.length
        away = np.abs((wall.stations - bridge.station + whole / 2) % whole - whole / 2)
        beside |= away <= half
        low = min(low, bridge.bottom - margin)
    level = (wall.heights >= low) & (wall.heights <= high)
    return np.asarray(level[:, None] & beside[None, :])


def stub_half(case: Case, waist: float) -> float:
    """Return how far from its middle a tab and its ramps may reach along the wall, mm."""
    tabs, trench = case.order.tabs, case.order.trench
    radius = max((float(s.cutter_radius.max(initial=0.0)) for s in case.given()), default=0.0)
    slope = np.tan(max(min(tabs.rise, tabs.descent), 1e-3))
    ramp = (tabs.thickness + trench.overlap + 2 * BESIDE_FACE) / slope
    return float(waist / 2 + radius + ramp + 0.25)
