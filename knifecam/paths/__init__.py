"""Where a cutter goes: offsets and the cuts made of them, in the part frame, without sides."""

from knifecam.paths.measure import Deviation, is_measured, measure_offset
from knifecam.paths.offset import offset
from knifecam.paths.reach import Corner, unreachable

__all__ = [
    "Corner",
    "Deviation",
    "is_measured",
    "measure_offset",
    "offset",
    "unreachable",
]
