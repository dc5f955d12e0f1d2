"""From a plan to RS-274 text: both cutting programs, and those that help to set up."""

from knifecam.program.align import align_program, offsets_program
from knifecam.program.frame import ProgramFrame, fit_lie, program_frame
from knifecam.program.looks import bores_to_visit
from knifecam.program.write import Program, write_program

__all__ = [
    "Program",
    "ProgramFrame",
    "align_program",
    "bores_to_visit",
    "fit_lie",
    "offsets_program",
    "program_frame",
    "write_program",
]
