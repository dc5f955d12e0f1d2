"""Stages of the work, by the names that cutting data has."""

from __future__ import annotations

BORE, FIT, SLOT, ROUGH, FINISH = "bore", "fit", "slot", "rough", "finish"


NOTCH, BREAK, NECK = "notch", "break", "neck"


CLEAR, BEVEL_ROUGH, BEVEL_SEMI = "clear", "bevel-rough", "bevel-semi"


BEVEL_FINISH, PLUNGE = "bevel-finish", "plunge-line"


BEVEL_STAGES = (CLEAR, BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH, PLUNGE)


STAGES = (BORE, FIT, SLOT, ROUGH, FINISH, NOTCH, BREAK, NECK, *BEVEL_STAGES)


def cutting_path(cutter: int, stage: str) -> str:
    """Return how lines name the cutting data of a cutter, by its number, in a stage."""
    return f'cutting of cutter {cutter} in stage "{stage}"'
