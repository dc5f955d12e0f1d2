"""Reading a DXF: the file, its unit, its entities, and what they join to."""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path
from typing import IO, Any

import ezdxf
import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import dxf_stream_info
from ezdxf.lldxf.const import acad_release
from ezdxf.lldxf.tagger import binary_tags_loader

from knifecam.drawing.entities import READERS
from knifecam.drawing.frame import FLAT
from knifecam.drawing.join import join_pieces
from knifecam.drawing.record import (
    OFF_PLANE,
    Drawing,
    Layer,
    Piece,
    Problem,
    shown,
)
from knifecam.drawing.unit import UNIT_LENGTHS, unit_of, unit_question
from knifecam.drawing.walk import Found, hidden, plain, walk
from knifecam.errors import DrawingError

Source = str | Path | IO[str] | IO[bytes]

BINARY_MARK = b"AutoCAD Binary DXF"


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
        raise DrawingError(f"join={join} mm must be greater than 0 and at most 1 mm")
    data, name = _content(source)
    document = _parsed(data, name)
    unit, stated = unit_of(document, units)
    factor = UNIT_LENGTHS.get(unit, 1.0)
    found = walk(document, factor)
    _refuse_empty(document, found, name)
    problems = [*found.problems, *_off_level(found.pieces)]
    joined = join_pieces(found.pieces, join, across=True, units=unit)
    if not unit:
        problems.insert(0, unit_question(joined.chains, stated))
    drawing = Drawing(
        name=name,
        version=_version(document),
        binary=isinstance(data, bytes) and data.startswith(BINARY_MARK),
        units=unit,
        factor=factor,
        stated=stated,
        join=join,
        layers=_layers(document, found),
        pieces=tuple(found.pieces),
        marks=tuple(found.marks),
        chains=joined.chains,
        repairs=joined.repairs,
        problems=(*problems, *joined.problems),
        left_out=found.left_out,
        notes=_notes(found.pieces, unit, stated),
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
            lines.append(str(problem))
    for kind, count in counts.items():
        if count > most:
            sizes = [p.size for p in problems if p.kind == kind and p.size is not None]
            worst = f", the largest {shown(max(sizes))} mm" if sizes else ""
            lines.append(f"and {count - most} more of kind '{kind}'{worst}")
    return lines


def _content(source: Source) -> tuple[bytes | str, str]:
    """Return what is in the file or stream, and its name for messages."""
    if isinstance(source, str | Path):
        path = Path(source)
        try:
            return path.read_bytes(), path.name
        except OSError as fault:
            reason = fault.strerror or str(fault)
            raise DrawingError(f"drawing '{path}' cannot be opened: {reason.lower()}") from fault
    name = getattr(source, "name", "")
    return source.read(), Path(name).name if isinstance(name, str) and name else "drawing"


def _parsed(data: bytes | str, name: str) -> Document:
    if not data.strip():
        raise DrawingError(f"drawing '{name}' is empty: nothing was written to it; save it again")
    if not _ends_whole(data):
        raise DrawingError(
            f"drawing '{name}' is not a whole DXF: its end (EOF) is missing; save or fetch it"
            " again as DXF (a DWG must be converted first)"
        )
    try:
        return _loaded(data)
    except Exception as fault:  # whatever a broken file does to the parser
        reason = plain(" ".join(str(fault).split()))[:200] or type(fault).__name__
        raise DrawingError(
            f"drawing '{name}' cannot be parsed as DXF: {reason}; open it in the program that"
            " drew it, repair it and save it again as DXF"
        ) from fault


def _ends_whole(data: bytes | str) -> bool:
    if isinstance(data, str):
        return data.rstrip().endswith("EOF")
    return data.rstrip(b"\x00 \t\r\n\x1a").endswith(b"EOF")


def _loaded(data: bytes | str) -> Document:
    if isinstance(data, str):
        return ezdxf.read(io.StringIO(data))
    if data.startswith(BINARY_MARK):
        return Document.load(binary_tags_loader(data, errors="surrogateescape"))
    probe = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8", errors="ignore")
    encoding = dxf_stream_info(probe).encoding
    return ezdxf.read(
        io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="surrogateescape")
    )


def _version(document: Any) -> str:
    code = document.loaded_dxfversion or document.dxfversion
    return str(acad_release.get(code, code))


def _layers(document: Any, found: Found) -> tuple[Layer, ...]:
    counts: dict[str, Counter[str]] = {}
    origins = [piece.origin for piece in found.pieces] + [mark.origin for mark in found.marks]
    for origin in origins:
        counts.setdefault(origin.layer, Counter())[origin.kind] += 1
    names = {plain(layer.dxf.name) for layer in document.layers} | set(counts)
    left = {item.layer for item in found.left_out}
    return tuple(
        Layer(
            name=name,
            counts=tuple(sorted(counts.get(name, Counter()).items())),
            hidden=hidden(document, name),
        )
        for name in sorted(names)
        if name in counts or name in left
    )


def _off_level(pieces: list[Piece]) -> list[Problem]:
    """Return a problem for every height but the one at which most of the drawing lies."""
    if not pieces:
        return []
    levels = np.array([piece.level for piece in pieces])
    common = float(np.median(levels))
    off = np.flatnonzero(~(np.abs(levels - common) <= FLAT))
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
        text=f"{which} at z={shown(first.level)} mm, most of the drawing at"
        f" z={shown(common)} mm: bring all to one height, or take out what does not belong to it",
    )


def _notes(pieces: list[Piece], unit: str, stated: str) -> tuple[str, ...]:
    notes = []
    level = float(np.median([piece.level for piece in pieces])) if pieces else 0.0
    if abs(level) > FLAT:
        notes.append(f"drawn at z={shown(level)} mm; taken as lying in the XY plane")
    says = stated.rpartition(", ")[2]
    if unit and says != unit:
        notes.append(f"read in {unit} as ordered ({stated})")
    return tuple(notes)


def _refuse_empty(document: Any, found: Found, name: str) -> None:
    """Raise where model space shows nothing that could be cut, and say where geometry is."""
    if found.pieces or found.marks or found.problems:
        return
    lines = [f"drawing '{name}' shows no lines or curves in model space"]
    for layout in document.layouts:
        if layout.name != "Model" and (count := _geometry(layout)):
            lines.append(
                f"paper space '{plain(layout.name)}' holds {count}: move them to model space"
            )
    for block in document.blocks:
        if not block.is_any_layout and not block.name.startswith(("*", "_")):
            count = _geometry(block)
            if count:
                lines.append(
                    f"block '{plain(block.name)}' holds {count} but is not placed in model"
                    " space: insert it"
                )
    for item in found.left_out:
        lines.append(f"left out: {item}")
    raise DrawingError("; ".join(lines))


def _geometry(entities: Any) -> str:
    counts = Counter(e.dxftype() for e in entities if e.dxftype() in READERS)
    return ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()))
