"""From a DXF's bytes to its model space, and the unit that it is drawn in."""

from __future__ import annotations

import io
import logging
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import numpy as np
from ezdxf import recover
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import dxf_stream_info
from ezdxf.lldxf.const import acad_release
from ezdxf.lldxf.tagger import ascii_tags_loader, binary_tags_loader
from ezdxf.lldxf.types import DXFTag

from knifecam.drawing.drawing_record import UNIT_UNCLEAR, Chain, Layer, Problem, shown
from knifecam.drawing.dxf_blocks import Found, layer_not_taken, printable_text, read_blocks
from knifecam.drawing.dxf_entities import READERS
from knifecam.errors import DrawingError
from knifecam.files import LONGEST, read_file
from knifecam.quantity import either

UNIT_LENGTHS = {
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "um": 1e-3,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
    "mil": 0.0254,
    "mi": 1_609_344.0,
    "km": 1e6,
    "uin": 2.54e-5,
    "angstrom": 1e-7,
    "nm": 1e-6,
    "dam": 1e4,
    "hm": 1e5,
    "Gm": 1e12,
    "au": 1.495978707e14,
    "ly": 9.4607304725808e18,
    "pc": 1.495978707e14 * 648_000 / math.pi,
    "us-ft": 1_200_000 / 3937,
    "us-in": 100_000 / 3937,
    "us-yd": 3_600_000 / 3937,
    "us-mi": 5280 * 1_200_000 / 3937,
}
"""mm of every unit a drawing may be in: SI and the inch by definition, astronomical unit, light year
and parsec as the IAU has them (Resolutions 2012 B2 and 2015 B2), the survey foot of 1200/3937 m."""


_USUAL = ("mm", "cm", "dm", "m", "um", "in", "ft", "yd", "mil")


_OTHER_NAMES = {
    "millimetre": "mm", "millimeter": "mm", "millimetres": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m",
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "thou": "mil",
}  # fmt: skip


_UNIT_CODES = {
    1: "in", 2: "ft", 3: "mi", 4: "mm", 5: "cm", 6: "m", 7: "km", 8: "uin", 9: "mil", 10: "yd",
    11: "angstrom", 12: "nm", 13: "um", 14: "dm", 15: "dam", 16: "hm", 17: "Gm", 18: "au",
    19: "ly", 20: "pc", 21: "us-ft", 22: "us-in", 23: "us-yd", 24: "us-mi",
}  # fmt: skip
"""Codes of $INSUNITS (DXF reference, header section, as published by Autodesk)."""


def unit_name(units: str) -> str:
    """Return the short name of a unit, or refuse it."""
    name = units.strip()
    name = name if name in UNIT_LENGTHS else name.lower()
    name = _OTHER_NAMES.get(name, name)
    if name not in UNIT_LENGTHS:
        raise DrawingError(
            f"units='{units}' must be one of {', '.join(_USUAL)}, or another that a DXF knows"
        )
    return name


def unit_of(document: Any, units: str | None) -> tuple[str, str]:
    """Return the drawing's unit, "" if nobody says, and what the file states."""
    code = document.header.get("$INSUNITS", None)
    written = _UNIT_CODES.get(code or 0, "")
    if code is None:
        stated = "$INSUNITS is absent"
    elif not code:
        stated = "$INSUNITS is 0, unitless"
    else:
        stated = f"$INSUNITS is {code}, {written or 'no unit that a DXF knows'}"
    return (unit_name(units) if units else written), stated


def unit_question(chains: Sequence[Chain], stated: str) -> Problem:
    size = ""
    if chains:
        bounds = np.array([chain.bounds for chain in chains])
        wide, high = bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)
        inch = UNIT_LENGTHS["in"]
        mm, inches = (
            " x ".join(shown(v * size, digits) for v in (wide, high))
            for size, digits in ((inch, 1), (1 / inch, 2))
        )
        other = either(f"{mm} mm if these are inches", f"{inches} in if these are mm")
        size = f"; it is {shown(wide, 3)} x {shown(high, 3)} units, {other}"
    text = f"the drawing does not say its unit ({stated}){size}; give units='mm' or units='in'"
    return Problem(kind=UNIT_UNCLEAR, text=text)


logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # its lines are for no screen of ours


Source = str | Path | IO[str] | IO[bytes]


BYTE_ORDER_MARK = "\ufeff"


BINARY_MARK = b"AutoCAD Binary DXF"


PDF_MARK = b"%PDF-"
"""How a PDF begins (ISO 32000-1, 7.5.2); its end reads as a DXF's."""


MARK_WITHIN = 256
"""Bytes, or letters, within which a file tells what it is."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contents:
    """What a file holds; names as in `Drawing`."""

    name: str
    version: str
    binary: bool
    units: str
    factor: float
    stated: str
    notes: tuple[str, ...]
    layers: tuple[Layer, ...]
    found: Found


def dxf_contents(source: Source, units: str | None) -> Contents:
    """Return what is in a file or stream, in mm, before anything is joined.

    Raises
    ------
    DrawingError
        Where it cannot be opened or parsed, is not whole, or shows no geometry.
    """
    data, name = _content(source)
    if not data.strip():
        raise DrawingError(f"drawing '{name}' is empty: nothing was written to it; save it again")
    if not _begins_as_dxf(data) and (
        not _ends_whole(data) or _first_bytes(data).startswith(PDF_MARK)
    ):
        raise DrawingError(
            f"drawing '{name}' is no DXF: it does not begin with a group code, as a DXF does; save it as"
            " DXF from the program that drew it (a DWG or PDF must be converted first)"
        )
    if not _ends_whole(data):
        raise DrawingError(
            f"drawing '{name}' is not a whole DXF: its end (EOF) is missing; save or fetch it"
            " again as DXF (a DWG must be converted first)"
        )
    try:
        return _understood(_loaded(data), data, name, units)
    except DrawingError:
        raise
    except Exception as fault:  # whatever a broken file does to the parser, or to what it made
        reason = printable_text(" ".join(str(fault).split()))[:200] or type(fault).__name__
        recovered = _recovered(data, name, units, reason)
        if recovered is None:
            raise DrawingError(
                f"drawing '{name}' cannot be parsed as DXF: {reason}; open it in the program that"
                " drew it, repair it and save it again as DXF"
            ) from fault
        return recovered


def _recovered(data: bytes | str, name: str, units: str | None, reason: str) -> Contents | None:
    """Return what can be read of a damaged file, with a note, or None where that is nothing."""
    raw = data.encode(errors="surrogateescape") if isinstance(data, str) else data
    try:
        document, audit = recover.read(io.BytesIO(raw), errors="surrogateescape")
        found = _understood(document, data, name, units)
    except Exception:  # the first reason is the one to tell
        return None
    mended = len(audit.fixes) + len(audit.errors)
    note = (
        f"the file is damaged ({reason}); read as far as it can be recovered, {mended} of its entries"
        " mended or dropped: see that nothing is missing, and save it again as DXF"
    )
    return replace(found, notes=(note, *found.notes))


def _understood(document: Document, data: bytes | str, name: str, units: str | None) -> Contents:
    unit, stated = unit_of(document, units)
    factor = UNIT_LENGTHS.get(unit, 1.0)
    found = read_blocks(document, factor)
    _refuse_empty(document, found, name)
    return Contents(
        name=name,
        version=_version(document),
        binary=isinstance(data, bytes) and data.startswith(BINARY_MARK),
        units=unit,
        factor=factor,
        stated=stated,
        notes=(),
        layers=_layers(document, found),
        found=found,
    )


def _content(source: Source) -> tuple[bytes | str, str]:
    """Return what is in the file or stream, and its name for messages."""
    if isinstance(source, str | Path):
        path = Path(source)
        try:
            return _unmarked(read_file(path)), printable_text(path.name)
        except (OSError, ValueError) as fault:
            reason = getattr(fault, "strerror", None) or str(fault)
            raise DrawingError(f"drawing '{path}' cannot be opened: {reason.lower()}") from fault
    given = getattr(source, "name", "")
    name = printable_text(Path(given).name) if isinstance(given, str) and given else "drawing"
    try:
        data = source.read(LONGEST + 1)
    except (OSError, UnicodeDecodeError) as fault:
        raise DrawingError(f"drawing '{name}' cannot be read: {fault}") from fault
    if len(data) > LONGEST:
        raise DrawingError(
            f"drawing '{name}' does not end within {LONGEST / 1e6:g} MB: take out what does not"
            " belong to the part"
        )
    return _unmarked(data), name


def _unmarked(data: bytes | str) -> bytes | str:
    """Return the content without a byte order mark; a file that has one is UTF-8 text."""
    mark = BYTE_ORDER_MARK.encode()
    if isinstance(data, bytes) and data.startswith(mark):
        return data[len(mark) :].decode(errors="surrogateescape")
    return data.removeprefix(BYTE_ORDER_MARK) if isinstance(data, str) else data


def _first_bytes(data: bytes | str) -> bytes:
    first = data[:MARK_WITHIN]
    return first.encode(errors="replace") if isinstance(first, str) else first


def _begins_as_dxf(data: bytes | str) -> bool:
    """Whether a file begins as a binary DXF does, or with a line that is a number, a group code."""
    first = _first_bytes(data)
    word = first.split(maxsplit=1)[:1]
    return first.startswith(BINARY_MARK) or not word or word[0].removeprefix(b"-").isdigit()


def _ends_whole(data: bytes | str) -> bool:
    if isinstance(data, str):
        return data.rstrip().endswith("EOF")
    return data.rstrip(b"\x00 \t\r\n\x1a").endswith(b"EOF")


def _loaded(data: bytes | str) -> Document:
    tags = _tags(data)
    raw = data.encode(errors="replace") if isinstance(data, str) else data
    return Document.load(_as_r2000(tags, raw) if _marked_but_old(raw) else tags)


def _tags(data: bytes | str) -> Iterable[DXFTag]:
    if isinstance(data, str):
        return ascii_tags_loader(io.StringIO(data, newline=None))
    if data.startswith(BINARY_MARK):
        return binary_tags_loader(data, errors="surrogateescape")
    probe = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8", errors="ignore")
    encoding = dxf_stream_info(probe).encoding
    return ascii_tags_loader(
        io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="surrogateescape")
    )


def _marked_but_old(data: bytes) -> bool:
    """Whether entities have the marks of R13 and later, and the file names R12 or no version.

    Read as R12, a closed LWPOLYLINE would come out open and a SPLINE lose its degree, since there
    all values stand before any mark.
    """
    if b"AcDb" not in data:
        return False
    stated = re.search(rb"\$ACADVER\W+(?:1\W+)?(AC[0-9]{4})", data)
    return stated[1] <= b"AC1009" if stated else b"$ACADVER" not in data


def _as_r2000(tags: Iterable[DXFTag], data: bytes) -> Iterator[DXFTag]:
    """Yield the tags of a file with R2000 for its version."""
    version = (DXFTag(9, "$ACADVER"), DXFTag(1, "AC1015"))
    if b"HEADER" not in data:
        yield from (DXFTag(0, "SECTION"), DXFTag(2, "HEADER"), *version, DXFTag(0, "ENDSEC"))
    before = DXFTag(0, "")
    for tag in tags:
        if before == (9, "$ACADVER"):
            tag = version[1]
        yield tag
        if before == (0, "SECTION") and tag == (2, "HEADER") and b"$ACADVER" not in data:
            yield from version
        before = tag


def _version(document: Any) -> str:
    code = document.loaded_dxfversion or document.dxfversion
    return printable_text(str(acad_release.get(code, code)))


def _layers(document: Any, found: Found) -> tuple[Layer, ...]:
    counts: dict[str, Counter[str]] = {}
    origins = [piece.origin for piece in found.pieces] + [mark.origin for mark in found.marks]
    for origin in origins:
        counts.setdefault(origin.layer, Counter())[origin.kind] += 1
    names = {printable_text(layer.dxf.name) for layer in document.layers} | set(counts)
    left = {item.layer for item in found.left_out}
    return tuple(
        Layer(
            name=name,
            counts=tuple(sorted(counts.get(name, Counter()).items())),
            hidden=layer_not_taken(document, name),
        )
        for name in sorted(names)
        if name in counts or name in left
    )


def _refuse_empty(document: Any, found: Found, name: str) -> None:
    """Raise where model space shows nothing that could be cut, and say where geometry is."""
    if found.pieces or found.marks or found.problems:
        return
    lines = [f"drawing '{name}' shows no lines or curves in model space"]
    for layout in document.layouts:
        if layout.name != "Model" and (count := _geometry(layout)):
            lines.append(
                f"paper space '{printable_text(layout.name)}' holds {count}: move them to model space"
            )
    for block in document.blocks:
        if not block.is_any_layout and not block.name.startswith(("*", "_")):
            count = _geometry(block)
            if count:
                lines.append(
                    f"block '{printable_text(block.name)}' holds {count} but is not placed in model"
                    " space: insert it"
                )
    for item in found.left_out:
        lines.append(f"left out: {item}")
    raise DrawingError("; ".join(lines))


def _geometry(entities: Any) -> str:
    counts = Counter(e.dxftype() for e in entities if e.dxftype() in READERS)
    return ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()))
