"""Through model space and every INSERT: pieces, marks, and what is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from ezdxf.lldxf.const import DXFError
from ezdxf.math import Vec3

from knifecam.curve.curve import Floats
from knifecam.drawing.drawing_limits import COPY_ENTITIES, DEEPEST_NESTING, MOST_ENTITIES
from knifecam.drawing.drawing_record import (
    OFF_PLANE,
    UNREADABLE,
    LeftOut,
    Mark,
    Origin,
    Piece,
    Problem,
)
from knifecam.drawing.dxf_entities import (
    READERS,
    Follower,
    OffPlaneError,
    Placing,
    mark_place,
    moved,
    piece_of,
)
from knifecam.errors import DrawingError, ShapeError

WHY_NOT = {
    "TEXT": "text",
    "MTEXT": "text",
    "ATTDEF": "text",
    "ATTRIB": "text",
    "DIMENSION": "a dimension",
    "ARC_DIMENSION": "a dimension",
    "LARGE_RADIAL_DIMENSION": "a dimension",
    "LEADER": "a note's leader",
    "MULTILEADER": "a note's leader",
    "TOLERANCE": "a note",
    "HATCH": "a filling, not an outline",
    "MPOLYGON": "a filling, not an outline",
    "SOLID": "a filling, not an outline",
    "TRACE": "a filling, not an outline",
    "WIPEOUT": "a filling, not an outline",
    "XLINE": "a construction line without ends",
    "RAY": "a construction line without an end",
    "MLINE": "a multiple line; explode it if it is wanted",
    "REGION": "a region; explode it if it is wanted",
    "IMAGE": "a picture",
    "VIEWPORT": "a view",
}


def printable_text(text: str) -> str:
    """Return a name of the file as it can be printed anywhere: no code that steers a terminal.

    What is not printed, and what turns the direction of writing, stands as the format writes it.
    """
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else f"\\U+{ord(sign):04X}" for sign in text)


@dataclass(slots=True)
class Found:
    """What has been met so far."""

    pieces: list[Piece] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    left: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    follower: Follower = field(default_factory=Follower)
    read: dict[tuple[float, ...], Piece] = field(default_factory=dict)
    """Entities of blocks, by size, where they stand in the block."""
    hidden: dict[str, str] = field(default_factory=dict)
    """Why nothing of a layer is taken, of those met."""
    visited: int = 0

    def visit(self, several: int = 1) -> None:
        """Count an entity, or a copy of a block for several of them.

        Raises
        ------
        DrawingError
            At the first beyond `MOST_ENTITIES`.
        """
        self.visited += several
        if self.visited > MOST_ENTITIES:
            raise DrawingError(
                f"the drawing places more than {MOST_ENTITIES} entities, blocks counted each"
                " time: take out what does not belong to the part"
            )

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What was not taken, by layer and kind."""
        order = sorted(self.left.items(), key=lambda item: (item[0][1], item[0][0], item[0][2]))
        return tuple(
            LeftOut(kind=kind, layer=layer, count=count, why=why)
            for (kind, layer, why), count in order
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
    """Where the reading is: what places the block, on which layer, and through which blocks."""

    placing: Placing
    size: tuple[float, float] | None = None
    """Of the placing, where the reading is inside a block."""
    layer: str = ""
    inside: str = ""
    blocks: tuple[str, ...] = ()


def read_blocks(document: Any, factor: float) -> Found:
    """Return everything model space shows; ``factor`` is the drawing's unit in mm."""
    found = Found()
    start = _Context(placing=Placing(turn=factor * np.eye(3), shift=np.zeros(3)))
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is told of by name
        _read_entities(document, document.modelspace(), start, found)
    return found


def layer_not_taken(document: Any, name: str) -> str:
    """Return why nothing of a layer is taken, "" where it is."""
    if name.casefold() == "defpoints":
        return "on a layer that never plots"
    if name not in document.layers:
        return ""
    layer = document.layers.get(name)
    if layer.is_frozen():
        return "on a frozen layer"
    return "on a layer that is switched off" if layer.is_off() else ""


def _read_entities(document: Any, entities: Iterable[Any], context: _Context, found: Found) -> None:
    for entity in entities:
        found.visit()
        _take(document, entity, context, found)


def _take(document: Any, entity: Any, context: _Context, found: Found) -> None:
    kind = printable_text(entity.dxftype())
    layer = printable_text(entity.dxf.get("layer", "0"))
    if layer == "0" and context.layer:
        layer = context.layer
    origin = Origin(
        layer=layer, handle=printable_text(str(entity.dxf.handle)), kind=kind, inside=context.inside
    )
    if layer not in found.hidden:
        found.hidden[layer] = layer_not_taken(document, layer)
    reason = "invisible" if entity.dxf.get("invisible", 0) else found.hidden[layer]
    try:
        if kind == "INSERT" and (not reason or reason == "on a layer that is switched off"):
            # a switched-off INSERT hides only what takes its layer from it
            _insert(document, entity, context, origin, found)
        elif reason:
            found.left[kind, layer, reason] += 1
        elif kind == "POINT":
            found.marks.append(Mark(origin=origin, place=mark_place(entity, context.placing)))
        elif kind in READERS and not _is_mesh(entity):
            found.follower.at = str(origin)
            found.pieces.append(_piece(entity, origin, context, found))
        else:
            found.left[kind, layer, WHY_NOT.get(kind, "not a line or curve in the plane")] += 1
    except OffPlaneError as fault:
        text = f"{fault.said[0]}: draw it flat, or turn it into the XY plane"
        found.problems.append(Problem(kind=OFF_PLANE, origin=origin, text=text))
    except (ValueError, ArithmeticError, TypeError, LookupError, AttributeError, DXFError) as fault:
        why = fault.said[0] if isinstance(fault, ShapeError) else printable_text(str(fault))
        text = f"cannot be understood: {why}"
        found.problems.append(Problem(kind=UNREADABLE, origin=origin, text=text))


def _piece(entity: Any, origin: Origin, context: _Context, found: Found) -> Piece:
    """Return the entity as lines and arcs; one of a block is read once for every size of it."""
    size = context.size
    if size is None:
        return piece_of(entity, origin, context.placing, found.follower)
    key = (id(entity), *size)
    if key not in found.read:
        wide, across = size
        plain_placing = Placing(turn=np.diag([wide, wide, across]), shift=np.zeros(3))
        found.read[key] = piece_of(entity, origin, plain_placing, found.follower)
    return moved(found.read[key], origin, context.placing, size[0])


def _is_mesh(entity: Any) -> bool:
    return entity.dxftype() == "POLYLINE" and (entity.is_polygon_mesh or entity.is_poly_face_mesh)


def _insert(document: Any, entity: Any, context: _Context, origin: Origin, found: Found) -> None:
    name = printable_text(str(entity.dxf.get("name", "")))
    block = document.blocks.get(entity.dxf.get("name", ""))
    if block is None:
        raise ValueError(f"it places block '{name}', which the file does not define")
    if block.block is not None and block.block.is_xref:
        found.left["INSERT", origin.layer, f"block '{name}' is in another file: bind it"] += 1
        return
    if name in context.blocks or len(context.blocks) >= DEEPEST_NESTING:
        raise ValueError(f"block '{name}' places itself")
    if not (entity.dxf.xscale and entity.dxf.yscale):
        raise ValueError("its X and Y scale must not be 0")
    outermost = context.inside.rpartition("(")[2].rstrip(")") or f"INSERT {origin.handle}"
    for cell in _cells(entity):
        found.visit(COPY_ENTITIES)
        placing = context.placing.after(cell)
        inner = _Context(
            placing=placing,
            size=placing.size,
            layer=origin.layer,
            inside=f"block '{name}' ({outermost})",
            blocks=(*context.blocks, name),
        )
        _read_entities(document, block, inner, found)


def _cells(entity: Any) -> Iterable[Placing]:
    """Return the placing of every copy that an INSERT makes."""
    rows = np.array(list(entity.matrix44().rows()))
    turn, shift = rows[:3, :3].T, rows[3, :3]
    columns, lines = max(1, int(entity.dxf.column_count)), max(1, int(entity.dxf.row_count))
    if columns * lines > MOST_ENTITIES:
        raise ValueError(f"it places {columns * lines} copies; at most {MOST_ENTITIES} are taken")
    if columns == lines == 1:
        yield Placing(turn=turn, shift=shift)
        return
    seen: set[tuple[float, ...]] = set()
    for line in range(lines):
        for column in range(columns):
            step = _step(entity, column, line)
            if tuple(step) not in seen:
                seen.add(tuple(step))
                yield Placing(turn=turn, shift=shift + step)


def _step(entity: Any, column: int, line: int) -> Floats:
    """Return how far a copy stands from the first: the grid turns but does not scale."""
    offset = Vec3(column * entity.dxf.column_spacing, line * entity.dxf.row_spacing)
    return np.array(entity.ocs().to_wcs(offset.rotate_deg(entity.dxf.rotation)).xyz)
