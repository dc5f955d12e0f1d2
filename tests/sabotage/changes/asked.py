"""A case of the judge whose measures are made when a rule first asks for them."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

from knifecam.judge.prove import pieces_of
from knifecam.measure.case import Case
from knifecam.measure.measured_bevel import Ground, measure_bevels
from knifecam.measure.measured_edge import (
    Broken,
    Edge,
    Tip,
    measure_breaks,
    measure_edges,
    measure_tip,
)
from knifecam.measure.measured_openings import (
    Notch,
    Opening,
    Web,
    measure_notches,
    measure_openings,
    measure_webs,
)
from knifecam.measure.measured_plunge import Risen, measure_plunges
from knifecam.measure.measured_surfaces import Surface
from knifecam.measure.measured_tabs import Bridge, measure_bridges
from knifecam.measure.measured_wall import Wall, hiding, measure_wall
from knifecam.measure.nominal import Wanted, wanted
from knifecam.shop import Order
from knifecam.sweep.columns import Grid
from knifecam.sweep.loose_pieces import Piece
from knifecam.sweep.side_program import Side


class Asked(Case):
    """A `Case` whose measures are made when they are asked for."""

    def __init__(
        self, order: Order, sides: tuple[Side | None, Side | None], grid: Grid,
        surfaces: tuple[Surface | None, Surface | None], wall: Wall | None = None,
    ) -> None:  # fmt: skip
        given = {"order": order, "sides": sides, "grid": grid, "surfaces": surfaces, "unread": ()}
        for name, value in (given | {"_half_wall": wall}).items():
            object.__setattr__(self, name, value)

    _half_wall: Wall | None

    @cached_property
    def wanted(self) -> Wanted:
        return wanted(self.order)

    @cached_property
    def wall(self) -> Wall:
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
    def openings(self) -> tuple[Opening, ...]:
        return measure_openings(self.order, self.sides, self.grid)

    @cached_property
    def _loose(self) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
        return pieces_of(self.order, self.grid)

    @property
    def pieces_unscrewed(self) -> tuple[Piece, ...]:
        return self._loose[0]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return self._loose[1]

    @cached_property
    def grounds(self) -> tuple[Ground, ...]:
        return measure_bevels(self.order, self.sides)

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        return measure_edges(self.order, self.sides)

    @cached_property
    def plunges(self) -> tuple[Risen, ...]:
        return measure_plunges(self.order, self.sides)

    @cached_property
    def tip(self) -> Tip | None:
        return measure_tip(self.order, self.sides)

    @cached_property
    def breaks(self) -> tuple[Broken, ...]:
        return measure_breaks(self.order, self.sides)

    @cached_property
    def notches(self) -> tuple[Notch, ...]:
        return measure_notches(self.order, self.sides)

    @cached_property
    def webs(self) -> tuple[Web, ...]:
        return measure_webs(self.wanted.outline, self.wall, self.openings)

    @cached_property
    def bridges(self) -> tuple[Bridge, ...]:
        return measure_bridges(self.order, self.wanted, self.sides, self.grid)
