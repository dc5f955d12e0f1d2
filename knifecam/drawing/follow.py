"""Splines and ellipses as arcs, and what following them takes over a whole drawing."""

from __future__ import annotations

from dataclasses import dataclass, field

from knifecam.curve.curve import Floats
from knifecam.curve.fit import fit_biarcs
from knifecam.curve.spline import Spline
from knifecam.errors import DrawingError
from knifecam.quantity import um

MOST_TRIED = 10_000
"""A drawing is refused whose curves take more tries: stretches over which two arcs are laid, and
where they do not follow within 1 um, over each half."""

MOST_PAIRS = 1000
"""A curve that takes more pairs of arcs is not followed; of a higher degree, so many times fewer."""


@dataclass(slots=True, eq=False)
class Follower:
    """Follows the curves of one drawing by arcs within 1 um, and counts the tries."""

    at: str = ""
    """The entity whose turn it is."""

    tried: int = 0
    ovals: dict[tuple[float, ...], tuple[Floats, Floats]] = field(default_factory=dict)
    """Pieces of ellipses that were followed, by their axes and angles."""

    def arcs(self, spline: Spline) -> tuple[Floats, Floats]:
        """Return vertices (N, 2) in mm and bulges (N,) of arcs and lines, open.

        Raises
        ------
        ValueError
            Where the spline cannot be followed, or takes more than `MOST_PAIRS` pairs of arcs.
        DrawingError
            Where all curves of the drawing so far took more than `MOST_TRIED` tries.
        """
        most = max(1, MOST_PAIRS // spline.weight)
        return fit_biarcs(spline, most=most, tally=lambda tries: self._count(tries * spline.weight))

    def _count(self, several: int) -> None:
        """Count tries, each for several where it takes so much longer than a usual spline's."""
        self.tried += several
        if self.tried > MOST_TRIED:
            raise DrawingError(
                f"{self.at}: by here the splines and ellipses take too long to follow within {um(1)};"
                " they are too large, too winding or too many for a blade: take out what does not"
                " belong to it, draw the rest simpler, and see that the unit is right"
            )
