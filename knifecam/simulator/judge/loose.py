"""Pieces that come free: the blade, slugs, waste."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import signed_distance
from knifecam.quantity import mm2
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import as_place
from knifecam.simulator.judge.keep_out import first_outline_cut
from knifecam.simulator.loose import Piece
from knifecam.simulator.verdict import Finding

SLUG_AREA, WASTE_AREA = 0.2, 0.5
"""mm2: smaller pieces are chips."""

MOST_OF_BLADE = 0.5


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds loose-part, loose-slug and loose-waste."""
    for piece in case.pieces:
        yield from _judged(piece, case)
    screwed = case.sides[1]
    if case.order.setup.hold.kind != "bores":
        return
    since = screwed.first + first_outline_cut(screwed, case) if screwed else np.inf
    for piece in case.pieces_unscrewed:
        if _named(piece, case) == "loose-part" and 0 <= piece.motion < since:
            yield _finding("loose-part", piece, case, "the blade comes free before it is screwed")


def _named(piece: Piece, case: Case) -> str:
    place = np.array([piece.place])
    for opening in case.openings:
        if signed_distance(place, opening.outline)[0] > 0:
            return "loose-slug"
    if piece.area > MOST_OF_BLADE * case.wanted.outline.area:
        return "loose-part"
    return "loose-part" if signed_distance(place, case.wanted.outline)[0] > 0 else "loose-waste"


def _judged(piece: Piece, case: Case) -> Iterator[Finding]:
    kind = _named(piece, case)
    if piece.area <= case.near(0.0, SLUG_AREA if kind == "loose-slug" else WASTE_AREA):
        return
    names = {
        "loose-part": "the blade" if piece.area > MOST_OF_BLADE * case.wanted.outline.area
        else "a piece of the blade",
        "loose-slug": "a slug inside a bore or slot",
        "loose-waste": "a piece of waste",
    }  # fmt: skip
    yield _finding(kind, piece, case, f"{names[kind]} comes free, {mm2(piece.area):.2f}")


def _finding(kind: str, piece: Piece, case: Case, sentence: str) -> Finding:
    remedies = {
        "loose-part": "leave tabs or screws that hold it until the end",
        "loose-slug": "clear the opening from its inside outward",
        "loose-waste": "cut it away whole, or leave it joined to the plate",
    }
    side, line = "B", 0
    if piece.motion >= 0:
        owner, motion = case.side_of(piece.motion)
        side, line = owner.name, int(owner.trace.line[motion])
    return Finding(
        kind=kind, side=side, line=line, message=sentence, place=as_place([*piece.place, 0.0]),
        measured=piece.area, allowed=None, remedy=remedies[kind],
    )  # fmt: skip
