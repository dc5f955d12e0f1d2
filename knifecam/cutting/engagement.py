"""What the cutter met, step by step: filled by the simulator, read by judgement and feeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve.curve import Floats, frozen


@dataclass(frozen=True, eq=False)
class Engagement:
    """Measures of the steps a program's motions are cut in, one row a step.

    Directions are seen along the travel; depths are thicknesses of metal that the flank meets, in
    mm, measured between the cutter's tip and the metal's top (less any void beneath).

    Parameters
    ----------
    motion : (S,) int32
        The motion each step belongs to.
    place : (S, 3) float, mm
        Tip at the step's middle, in the side's own frame.
    length, volume : (S,) float, mm and mm3
    left, front, right : (S,) float, mm
        Depth met within 45 degrees of straight left, of straight ahead, of straight right.
    width : (S,) float, rad
        Angle of the leading half circle that meets metal.
    under : (S,) float, mm
        Greatest depth taken off any column in the step.
    tallest : (S,) float, mm
        How far above the tip metal stands round the whole rim.
    shank : (S,) float, mm
        How far above the beginning of the shank metal stands within the shank's radius; <= 0: free.
    floor : (S,) float, mm
        Thickness of metal left under the tip where there is a void beneath it, inf over solid.
    """

    motion: NDArray[np.int32]
    place: Floats
    length: Floats
    volume: Floats
    left: Floats
    front: Floats
    right: Floats
    width: Floats
    under: Floats
    tallest: Floats
    shank: Floats
    floor: Floats

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            dtype = np.int32 if name == "motion" else np.float64
            object.__setattr__(self, name, frozen(getattr(self, name), dtype))

    def __len__(self) -> int:
        return len(self.motion)
