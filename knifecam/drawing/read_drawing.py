"""Reading a DXF: the file, its unit, its entities, and what they join to."""

from __future__ import annotations

from collections import Counter

import numpy as np

from knifecam.drawing.chains import join_pieces
from knifecam.drawing.drawing_limits import OUT_OF_PLANE_MM
from knifecam.drawing.drawing_record import OFF_PLANE, Drawing, Piece, Problem, shown_mm
from knifecam.drawing.dxf_file import Source, dxf_contents, unit_question
from knifecam.errors import DrawingError
from knifecam.quantity import mm


def read_drawing(
    source: Source,
    units: str | None = None,
    join: float = 0.01,
    *,
    strict: bool = True,
) -> Drawing:
    """Return the drawing in mm: pieces of its model space, joined end to end.

    Lines, arcs and circles are those of the file; ellipses and splines are followed by arcs
    within 1 um. No gap above ``join`` is closed.

    Parameters
    ----------
    source : path, or open text or binary stream
        A DXF, ASCII or binary, of any version from R12.
    units : str, optional
        "mm", "cm", "m", "in", "ft", ...: what one unit of the drawing is. Without it the file
        must say so in $INSUNITS.
    join : float, mm
        Ends that are further apart are not joined.
    strict : bool
        Whether problems raise. Without it they are in the drawing's ``problems``, and an
        unknown unit is read as mm.

    Raises
    ------
    DrawingError
        Where the file cannot be parsed or holds no geometry; when ``strict``, one line for
        every problem.
    """
    if not (np.isfinite(join) and 0 < join <= 1):
        raise DrawingError(f"join={mm(join)} must be greater than 0 and at most {mm(1)}")
    file = dxf_contents(source, units)
    found = file.found
    problems = [*found.problems, *_off_level(found.pieces)]
    joined = join_pieces(found.pieces, join, across=True, units=file.units)
    if not file.units:
        problems.insert(0, unit_question(joined.chains, file.stated))
    drawing = Drawing(
        name=file.name,
        version=file.version,
        binary=file.binary,
        units=file.units,
        factor=file.factor,
        stated=file.stated,
        join=join,
        layers=file.layers,
        pieces=tuple(found.pieces),
        marks=tuple(found.marks),
        chains=joined.chains,
        repairs=joined.repairs,
        problems=(*problems, *joined.problems),
        left_out=found.left_out,
        notes=(*file.notes, *_notes(found.pieces, file.units, file.stated)),
    )
    if strict and drawing.problems:
        raise DrawingError(problem_lines(drawing.problems), drawing.problems)
    return drawing


def problem_lines(problems: tuple[Problem, ...], most: int = 20) -> list[str]:
    """Return one line for every problem, at most ``most`` of a kind and a count of the rest."""
    lines: list[str] = []
    counts: Counter[str] = Counter()
    for problem in problems:
        counts[problem.kind] += 1
        if counts[problem.kind] <= most:
            lines.append(problem.said)
    for kind, count in counts.items():
        if count > most:
            sizes = [p.size for p in problems if p.kind == kind and p.size is not None]
            worst = f", the largest {shown_mm(max(sizes))}" if sizes else ""
            lines.append(f"and {count - most} more of kind '{kind}'{worst}")
    return lines


def _off_level(pieces: list[Piece]) -> list[Problem]:
    """Return a problem for every height but the one at which most of the drawing lies."""
    if not pieces:
        return []
    levels = np.array([piece.level for piece in pieces])
    common = float(np.median(levels))
    off = np.flatnonzero(~(np.abs(levels - common) <= OUT_OF_PLANE_MM))
    heights: dict[float, list[int]] = {}
    for k in off.tolist():
        heights.setdefault(round(float(levels[k]), 3), []).append(k)
    return [_at_height(pieces, chosen, common) for chosen in heights.values()]


def _at_height(pieces: list[Piece], chosen: list[int], common: float) -> Problem:
    first = pieces[chosen[0]]
    which = f"it and {len(chosen) - 1} more lie" if len(chosen) > 1 else "it lies"
    return Problem(
        kind=OFF_PLANE,
        origin=first.origin,
        place=(float(first.vertices[0, 0]), float(first.vertices[0, 1])),
        size=abs(first.level - common),
        text=f"{which} at z={shown_mm(first.level)}, most of the drawing at"
        f" z={shown_mm(common)}: bring all to one height, or take out what does not belong to it",
    )


def _notes(pieces: list[Piece], unit: str, stated: str) -> tuple[str, ...]:
    notes = []
    level = float(np.median([piece.level for piece in pieces])) if pieces else 0.0
    if abs(level) > OUT_OF_PLANE_MM:
        notes.append(f"drawn at z={shown_mm(level)}; taken as lying in the XY plane")
    says = stated.rpartition(", ")[2]
    if unit and says != unit:
        notes.append(f"read in {unit} as ordered ({stated})")
    return tuple(notes)
