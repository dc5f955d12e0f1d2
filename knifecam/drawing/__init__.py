"""Drawings: DXF files as curves by layer, joined, with what was repaired and what is wrong.

`read_drawing` reads a file, `find_parts` says what is outline, bore and slot, `report` tells what
was understood and `picture` shows it. Lengths in mm.
"""

from knifecam.drawing.marks import keep_off_stretches
from knifecam.drawing.picture import picture, refuse_picture
from knifecam.drawing.read import read_drawing
from knifecam.drawing.record import Chain, Drawing, LeftOut, Mark, Piece, Problem, Repair
from knifecam.drawing.report import report, report_data, unclear
from knifecam.drawing.roles import DrawnBore, Parts, Roles, find_parts

__all__ = [
    "Chain",
    "Drawing",
    "DrawnBore",
    "LeftOut",
    "Mark",
    "Parts",
    "Piece",
    "Problem",
    "Repair",
    "Roles",
    "find_parts",
    "keep_off_stretches",
    "picture",
    "read_drawing",
    "refuse_picture",
    "report",
    "report_data",
    "unclear",
]
