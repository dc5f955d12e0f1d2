"""The case before the judge: the order, both sides as swept, and everything measured on them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.errors import ProgramError
from knifecam.shop import Order
from knifecam.simulator.columns import SURE, Grid
from knifecam.simulator.loose import Piece
from knifecam.simulator.measure_bevel import Ground
from knifecam.simulator.measure_bores import Opening
from knifecam.simulator.measure_break import Broken
from knifecam.simulator.measure_edge import Edge
from knifecam.simulator.measure_frame import least_frame
from knifecam.simulator.measure_notch import Notch
from knifecam.simulator.measure_plunge import Risen
from knifecam.simulator.measure_surface import Surface
from knifecam.simulator.measure_tabs import Bridge
from knifecam.simulator.measure_tip import Tip
from knifecam.simulator.measure_walls import Wall
from knifecam.simulator.measure_web import Web
from knifecam.simulator.side import CONTACT, Side
from knifecam.simulator.stage import BEVEL_ROUGH, Given, fitting, given
from knifecam.simulator.wanted import Wanted

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
    wanted: Wanted
    sides: tuple[Side | None, Side | None]
    unread: tuple[tuple[str, ProgramError], ...]
    grid: Grid
    surfaces: tuple[Surface | None, Surface | None]
    grounds: tuple[Ground, ...]
    edges: tuple[Edge, ...]
    plunges: tuple[Risen, ...]
    tip: Tip | None
    breaks: tuple[Broken, ...]
    notches: tuple[Notch, ...]
    webs: tuple[Web, ...]
    wall: Wall
    openings: tuple[Opening, ...]
    bridges: tuple[Bridge, ...]
    pieces: tuple[Piece, ...]
    pieces_unscrewed: tuple[Piece, ...]
    coarse: bool = False

    @property
    def seen(self) -> float:
        """The side of the cells that limits are made for, mm: no narrower than those of `SURE`."""
        return max(self.grid.cell, SURE)

    def near(self, ordered: Floats | float, allowed: Floats | float) -> Floats:
        """Return the limit that cells are held to: ``allowed``, halfway to ``ordered`` if coarse."""
        return np.asarray((ordered + allowed) / 2 if self.coarse else allowed, float)

    def meets(self, side: Side) -> NDArray[np.bool_]:
        """Return which steps of a side meet metal, (S,); if coarse, those too that go beside some."""
        rows, lowest = side.steps, np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
        met = rows.engagement.volume > CONTACT
        if self.coarse:
            beside = (rows.engagement.tallest > 0.0) & (lowest < side.face)[rows.motion]
            met |= beside & side.shapes.known[rows.motion]
        return np.asarray(met & ~side.rapid[rows.motion])

    def given(self) -> Iterator[Side]:
        """Yield the sides there are."""
        for side in self.sides:
            if side is not None:
                yield side

    @cached_property
    def least_frame(self) -> tuple[float, tuple[float, float]]:
        """The least width of the plate's frame, mm, and where it is."""
        return least_frame(self)

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

    def side_of(self, motion: int) -> tuple[Side, int]:
        """Return the side a global motion index belongs to, and its index there."""
        found = None
        for side in self.given():
            if motion >= side.first:
                found = side
        if found is None:
            raise IndexError(f"motion={motion} belongs to no side")
        return found, motion - found.first
