"""Drawings: DXF files as curves by layer, joined, with what was repaired and what is wrong.

`read_drawing` reads a file, `find_parts` says what is outline, bore and slot, `report` tells what
was understood and `picture` shows it. Lengths in mm.
"""

from knifecam.drawing.drawing_record import Chain, Drawing, LeftOut, Mark, Piece, Problem, Repair
from knifecam.drawing.drawing_report import picture, refuse_picture, report, report_data, unclear
from knifecam.drawing.loop_roles import DrawnBore, Parts, Roles, find_parts, role_thing
from knifecam.drawing.outline_choice import no_tab_stretches
from knifecam.drawing.read_drawing import read_drawing

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
    "no_tab_stretches",
    "picture",
    "read_drawing",
    "refuse_picture",
    "report",
    "report_data",
    "role_thing",
    "unclear",
]
