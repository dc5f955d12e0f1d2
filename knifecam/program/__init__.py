"""From a plan to RS-274 text: both cutting programs, and those that help to set up."""

from knifecam.program.program_text import Program, write_program
from knifecam.program.setup_programs import align_program, bores_to_visit, offsets_program
from knifecam.program.zero_and_flip_fit import ProgramFrame, fit_lie, program_frame

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
