"""Where a cutter goes: offsets and the cuts made of them, in the part frame, without sides."""

from knifecam.paths.inner_corners import Corner, unreachable
from knifecam.paths.offset import offset
from knifecam.paths.offset_check import Deviation, is_measured, measure_offset

__all__ = [
    "Corner",
    "Deviation",
    "is_measured",
    "measure_offset",
    "offset",
    "unreachable",
]
