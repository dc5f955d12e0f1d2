"""What was cut, and what was measured on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import stations_past
from knifecam.errors import ProgramError
from knifecam.measure.measure_limits import BESIDE_FACE_MM, BESIDE_TAB_MM
from knifecam.measure.measured_bevel import MeasuredBevel, MeasuredPlunge
from knifecam.measure.measured_edge import MeasuredEdge, MeasuredEdgeBreak, MeasuredTip
from knifecam.measure.measured_openings import MeasuredNotch, MeasuredOpening, MeasuredWeb
from knifecam.measure.measured_surfaces import GroundSurface, least_border
from knifecam.measure.measured_tabs import MeasuredTab
from knifecam.measure.measured_wall import MeasuredWall
from knifecam.measure.nominal import Nominal
from knifecam.measure.step_stages import BEVEL_ROUGH, Given, fitting, given
from knifecam.shop import Order
from knifecam.sweep.columns import Grid
from knifecam.sweep.loose_pieces import LoosePiece
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import LEAST_CONTACT_MM3, SURE_CELL_MM

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Case:
    """Everything the findings are made from.

    ``sides`` are A and B, None where there is no text or it could not be read; ``unread`` holds
    the latter's errors by side. ``surfaces`` hold the cells of bevels and edge breaks of each side,
    ``grounds`` the lines across its bevels, ``edges`` their lands; ``plunges``,
    ``tip``, ``breaks``, ``notches`` and ``webs`` as they were measured. ``wall`` is the outline's,
    ``openings`` are bores and slots, those of the registration too. ``pieces`` came free with the
    blade held by what holds it at the end; ``pieces_unscrewed`` as if no screw were there (the same
    unless the hold is "bores"). ``coarse`` tells that the cells are too coarse to find anything by:
    rules that look at them then find what comes near their limits too.
    """

    order: Order
    wanted: Nominal
    sides: tuple[SideProgram | None, SideProgram | None]
    unread: tuple[tuple[str, ProgramError], ...]
    grid: Grid
    surfaces: tuple[GroundSurface | None, GroundSurface | None]
    grounds: tuple[MeasuredBevel, ...]
    edges: tuple[MeasuredEdge, ...]
    plunges: tuple[MeasuredPlunge, ...]
    tip: MeasuredTip | None
    breaks: tuple[MeasuredEdgeBreak, ...]
    notches: tuple[MeasuredNotch, ...]
    webs: tuple[MeasuredWeb, ...]
    wall: MeasuredWall
    openings: tuple[MeasuredOpening, ...]
    bridges: tuple[MeasuredTab, ...]
    pieces: tuple[LoosePiece, ...]
    pieces_unscrewed: tuple[LoosePiece, ...]
    coarse: bool = False

    @property
    def seen(self) -> float:
        """The side of the cells that limits are made for, mm: no narrower than `SURE_CELL_MM`."""
        return max(self.grid.cell, SURE_CELL_MM)

    def near(self, ordered: Floats | float, allowed: Floats | float) -> Floats:
        """Return the limit that cells are held to: ``allowed``, halfway to ``ordered`` if coarse."""
        return np.asarray((ordered + allowed) / 2 if self.coarse else allowed, float)

    def meets(self, side: SideProgram) -> NDArray[np.bool_]:
        """Return which steps of a side meet metal, (S,); if coarse, those too that go beside some."""
        rows, lowest = side.steps, np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
        met = rows.engagement.volume > LEAST_CONTACT_MM3
        if self.coarse:
            beside = (rows.engagement.tallest > 0.0) & (lowest < side.face)[rows.motion]
            met |= beside & side.shapes.known[rows.motion]
        return np.asarray(met & ~side.rapid[rows.motion])

    def given(self) -> Iterator[SideProgram]:
        """Yield the sides there are."""
        for side in self.sides:
            if side is not None:
                yield side

    @cached_property
    def least_border(self) -> tuple[float, tuple[float, float]]:
        """The least width of the plate's border, mm, and where it is."""
        return least_border(self)

    @cached_property
    def stages(self) -> dict[str, Given]:
        """What the order gives each step of each side that was swept, by the side's name."""
        return {name: given(self.order, fits) for name, fits in self._fits.items()}

    @cached_property
    def roughs_bevel(self) -> dict[str, NDArray[np.bool_]]:
        """Which steps of each side can do nothing but rough a bevel, (S,), by the side's name."""
        rough = np.array([c.stage == BEVEL_ROUGH for c in self.order.cutting], bool)
        return {
            name: (fits & rough).any(axis=1) & ~(fits & ~rough).any(axis=1)
            for name, fits in self._fits.items()
        }

    @cached_property
    def _fits(self) -> dict[str, NDArray[np.bool_]]:
        """Which of the order's cutting entries each step may be of, (S, E), by the side's name."""
        return {
            side.name: fitting(self.order, side, self.grid)
            for side in self.given()
            if side.swept is not None
        }

    @property
    def whole(self) -> bool:
        """Whether both sides were cut."""
        return None not in self.sides

    def side_of(self, motion: int) -> tuple[SideProgram, int]:
        """Return the side a global motion index belongs to, and its index there."""
        found = None
        for side in self.given():
            if motion >= side.first:
                found = side
        if found is None:
            raise IndexError(f"motion={motion} belongs to no side")
        return found, motion - found.first


def on_stub(case: Case) -> NDArray[np.bool_]:
    """Return where heights and places of the outline's wall belong to a tab's stub, (H, n)."""
    wall, wanted = case.wall, case.wanted
    corner = max((float(s.shapes.corner.max(initial=0.0)) for s in case.given()), default=0.0)
    margin = BESIDE_TAB_MM + corner + case.order.trench.clearance
    # the ramps carry the tab's lower face up past side A's floor
    high = wanted.floor_b + margin
    beside = np.zeros(len(wall.stations), bool)
    low = wanted.tab_low - margin
    for bridge in case.bridges:
        half = stub_half(case, bridge.waist)
        away = np.abs(stations_past(wall.stations, bridge.station, wanted.outline.length))
        beside |= away <= half
        low = min(low, bridge.bottom - margin)
    level = (wall.heights >= low) & (wall.heights <= high)
    return np.asarray(level[:, None] & beside[None, :])


def stub_half(case: Case, waist: float) -> float:
    """Return how far from its middle a tab and its ramps may reach along the wall, mm."""
    tabs, trench = case.order.tabs, case.order.trench
    radius = max((float(s.cutter_radius.max(initial=0.0)) for s in case.given()), default=0.0)
    slope = np.tan(max(min(tabs.ramp_up, tabs.ramp_down), 1e-3))
    ramp = (tabs.thickness + trench.overlap + 2 * BESIDE_FACE_MM) / slope
    return float(waist / 2 + radius + ramp + 0.25)
