"""Splines and ellipses as arcs, and what following them takes over a whole drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from knifecam.curve.curve import Curve, Floats
from knifecam.curve.fit import SmoothCurve, fit_biarcs
from knifecam.errors import DrawingError

MOST_ASKED = 40_000
"""A drawing is refused whose curves are asked more often where they run; each stretch that is
tried is asked for about four times, so that there may be some 10 000 arcs."""

MOST_PAIRS = 1000
"""A curve that takes more pairs of arcs is not followed; of a higher degree, so many times fewer."""


@dataclass(slots=True, eq=False)
class Follower:
    """Follows the curves of one drawing by arcs within 1 um, and counts how often it asks them."""

    at: str = ""
    """The entity whose turn it is."""

    asked: int = 0
    ovals: dict[tuple[float, ...], Curve] = field(default_factory=dict)
    """Pieces of ellipses that were followed, by their axes and angles."""

    def arcs(
        self,
        curve: SmoothCurve,
        span: tuple[float, float],
        breaks: Sequence[float],
        weight: int = 1,
    ) -> Curve:
        """Return an open curve of arcs and lines; names as in `fit_biarcs`.

        Parameters
        ----------
        weight : int
            So many times as long as one of degree 5 the curve takes to say where it runs.

        Raises
        ------
        ValueError
            Where the curve cannot be followed, or takes more than `MOST_PAIRS` pairs of arcs.
        DrawingError
            Where all curves of the drawing so far took more than `MOST_ASKED`.
        """

        def asked(parameters: Floats) -> tuple[Floats, Floats]:
            self.ask(weight)
            return curve(parameters)

        return fit_biarcs(asked, span, breaks=breaks, most=max(1, MOST_PAIRS // weight))

    def ask(self, several: int) -> None:
        """Count that a curve is asked once more, ``several`` times where it takes so much longer.

        Raises
        ------
        DrawingError
            At the first beyond `MOST_ASKED`.
        """
        self.asked += several
        if self.asked > MOST_ASKED:
            raise DrawingError(
                f"{self.at}: by here the splines and ellipses take too long to follow within 1 um;"
                " they are too large, too winding or too many for a blade: take out what does not"
                " belong to it, draw the rest simpler, and see that the unit is right"
            )
