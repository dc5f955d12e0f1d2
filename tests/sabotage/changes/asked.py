"""A case of the judge whose measures are made when a rule first asks for them."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

from knifecam.judge.prove import pieces_of
from knifecam.measure.case import Case
from knifecam.measure.measured_bevel import (
    MeasuredBevel,
    MeasuredPlunge,
    measure_plunges,
    measured_bevels,
)
from knifecam.measure.measured_edge import (
    MeasuredEdge,
    MeasuredEdgeBreak,
    MeasuredTip,
    measure_breaks,
    measure_edges,
    measure_tip,
)
from knifecam.measure.measured_openings import (
    MeasuredNotch,
    MeasuredOpening,
    MeasuredWeb,
    measure_notches,
    measure_openings,
    measure_webs,
)
from knifecam.measure.measured_surfaces import GroundSurface
from knifecam.measure.measured_tabs import MeasuredTab, measured_tabs
from knifecam.measure.measured_wall import MeasuredWall, hiding, measure_wall
from knifecam.measure.nominal import Nominal, nominal
from knifecam.shop import Order
from knifecam.sweep.columns import Grid
from knifecam.sweep.loose_pieces import LoosePiece
from knifecam.sweep.side_program import SideProgram


class Asked(Case):
    """A `Case` whose measures are made when they are asked for."""

    def __init__(
        self, order: Order, sides: tuple[SideProgram | None, SideProgram | None], grid: Grid,
        surfaces: tuple[GroundSurface | None, GroundSurface | None], wall: MeasuredWall | None = None,
    ) -> None:  # fmt: skip
        given = {"order": order, "sides": sides, "grid": grid, "surfaces": surfaces, "unread": ()}
        for name, value in (given | {"_half_wall": wall}).items():
            object.__setattr__(self, name, value)

    _half_wall: MeasuredWall | None

    @cached_property
    def wanted(self) -> Nominal:
        return nominal(self.order)

    @cached_property
    def wall(self) -> MeasuredWall:
        """The outline's wall; of a side that is as it was, as it was measured before."""
        old = self._half_wall
        if old is None:
            return measure_wall(self.order.blade, self.wanted, self.sides)
        fresh = tuple(
            side if kept is None else None for side, kept in zip(self.sides, old.sides, strict=True)
        )
        wall = measure_wall(self.order.blade, self.wanted, (fresh[0], fresh[1]), old.heights)
        both = tuple(a or b for a, b in zip(wall.sides, old.sides, strict=True))
        if len(hiding(old.heights, (both[0], both[1]))):
            return measure_wall(self.order.blade, self.wanted, self.sides)
        return replace(wall, sides=(both[0], both[1]))

    @cached_property
    def openings(self) -> tuple[MeasuredOpening, ...]:
        return measure_openings(self.order, self.sides, self.grid)

    @cached_property
    def _loose(self) -> tuple[tuple[LoosePiece, ...], tuple[LoosePiece, ...]]:
        return pieces_of(self.order, self.grid)

    @property
    def pieces_unscrewed(self) -> tuple[LoosePiece, ...]:
        return self._loose[0]

    @property
    def pieces(self) -> tuple[LoosePiece, ...]:
        return self._loose[1]

    @cached_property
    def grounds(self) -> tuple[MeasuredBevel, ...]:
        return measured_bevels(self.order, self.sides)

    @cached_property
    def edges(self) -> tuple[MeasuredEdge, ...]:
        return measure_edges(self.order, self.sides)

    @cached_property
    def plunges(self) -> tuple[MeasuredPlunge, ...]:
        return measure_plunges(self.order, self.sides)

    @cached_property
    def tip(self) -> MeasuredTip | None:
        return measure_tip(self.order, self.sides)

    @cached_property
    def breaks(self) -> tuple[MeasuredEdgeBreak, ...]:
        return measure_breaks(self.order, self.sides)

    @cached_property
    def notches(self) -> tuple[MeasuredNotch, ...]:
        return measure_notches(self.order, self.sides)

    @cached_property
    def webs(self) -> tuple[MeasuredWeb, ...]:
        return measure_webs(self.wanted.outline, self.wall, self.openings)

    @cached_property
    def bridges(self) -> tuple[MeasuredTab, ...]:
        return measured_tabs(self.order, self.wanted, self.sides, self.grid)
