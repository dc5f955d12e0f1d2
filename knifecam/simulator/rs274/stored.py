"""What a mill holds in its memory and no program tells: parameters, lengths, diameters."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What the mill is taken to hold when a program starts; what is not given is not known.

    ``parameters`` by their numbers, as in a parameter file (see `read_parameters`); places of
    homes and zeros of work offsets among them are mm in machine coordinates.
    ``lengths`` by H and ``diameters`` by D, mm. A negative diameter is how much smaller a cutter is
    than the one the path was programmed for. H0 and D0 are 0 without being given.

    Raises
    ------
    ValueError
        For a number that is not finite.
    """

    parameters: Mapping[int, float] = field(default_factory=dict)
    lengths: Mapping[int, float] = field(default_factory=dict)
    diameters: Mapping[int, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("parameters", "lengths", "diameters"):
            for number, value in getattr(self, name).items():
                if not math.isfinite(value):
                    raise ValueError(f"{name}[{number}]={value} must be finite")

    def length(self, h: int) -> float | None:
        """Return the length stored for H, mm; None where it is not known."""
        return self.lengths.get(h, 0.0 if h == 0 else None)

    def diameter(self, d: int) -> float | None:
        """Return the diameter stored for D, mm; None where it is not known."""
        return self.diameters.get(d, 0.0 if d == 0 else None)
