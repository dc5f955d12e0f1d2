"""Heights along a track: how deep the cutter's tip goes at each station."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve.curve import Floats


@dataclass(frozen=True, eq=False)
class Heights:
    """Tip height as a piecewise linear function of station.

    Parameters
    ----------
    stations : (K,) float, mm
        Ascending; before the first and past the last the height stays.
    z : (K,) float, mm
        Side frame.
    """

    stations: Floats
    z: Floats

    def at(self, stations: Floats) -> Floats:
        """Return the height at each station."""
        return np.interp(stations, self.stations, self.z)

    @staticmethod
    def level(z: float) -> Heights:
        """Return one height everywhere."""
        return Heights(np.zeros(1), np.array([z]))

    @staticmethod
    def through(places: Sequence[tuple[float, float]]) -> Heights:
        """Return heights through (station, z) places."""
        s, z = zip(*places, strict=True)
        return Heights(np.array(s, dtype=float), np.array(z, dtype=float))


def highest(first: Heights, second: Heights) -> Heights:
    """Return the greater of two height functions, exact at their crossings."""
    s = np.union1d(first.stations, second.stations)
    a, b = first.at(s), second.at(s)
    gap = a - b
    turns = np.flatnonzero(gap[:-1] * gap[1:] < 0)
    crossings = s[turns] + (s[turns + 1] - s[turns]) * gap[turns] / (gap[turns] - gap[turns + 1])
    s = np.union1d(s, crossings)
    return Heights(s, np.maximum(first.at(s), second.at(s)))
