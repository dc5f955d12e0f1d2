"""The drawing an order names: its parts, and the bytes that stand for it in a digest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve import Curve, Stretch
from knifecam.errors import DrawingError
from knifecam.files import read_file
from knifecam.order.blade_tables import DrawingSection
from knifecam.order.fill_defaults import note_assumed
from knifecam.order.order_limits import JOIN_MM
from knifecam.order.toml_text import OrderNotes
from knifecam.quantity import renamed, told
from knifecam.record import printable
from knifecam.shop.assumptions import AS_USUAL


class DrawnBore(Protocol):
    """A bore as drawn."""

    @property
    def name(self) -> str: ...
    @property
    def centre(self) -> tuple[float, float]: ...
    @property
    def diameter(self) -> float: ...


class DrawnParts(Protocol):
    """What a drawing gives: the outline and all that lies in and along it.

    ``slots`` are closed curves, ``tabs`` (K, 2) places, ``no_tabs`` open curves along the outline
    and ``no_tab_pairs`` (K, 2, 2) pairs of places between which no tab may be.
    """

    @property
    def outline(self) -> Curve: ...
    @property
    def bores(self) -> Sequence[DrawnBore]: ...
    @property
    def slots(self) -> Sequence[Curve]: ...
    @property
    def tabs(self) -> ArrayLike: ...
    @property
    def no_tabs(self) -> Sequence[Curve]: ...
    @property
    def no_tab_pairs(self) -> ArrayLike: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingSource:
    """The parts of a drawing, the stretches it keeps off, and ``content``, its bytes for a digest.

    Stations count along the counter-clockwise outline. ``notes`` tell what of the drawing was left
    alone and what looks odd.
    """

    parts: DrawnParts
    no_tabs: tuple[Stretch, ...]
    content: bytes
    notes: tuple[str, ...] = ()


def read_drawn(
    section: DrawingSection,
    folder: Path,
    notes: OrderNotes,
    shapes: Mapping[str, str] | None = None,
) -> DrawingSource | None:
    """Return the parts of the drawing the order names; None when there is no such file.

    ``shapes`` are layers whose curves patterns are made of, and the keys of the order that name them.

    Raises
    ------
    DrawingError
        When it cannot be read, joined or understood.
    """
    join = section.join
    if join is None:
        join = JOIN_MM
        note_assumed(section, "join", join, AS_USUAL, "drawing", notes)
    file = folder / section.file
    try:
        content = read_file(file)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        notes.troubles.append(
            f'drawing.file="{printable(section.file)}" cannot be read: {reason.lower()}; its path is seen'
            " from the order's folder, so put it beside the order or write the way to it"
        )
        return None
    # loaded here, for orders whose drawing is already read need no DXF reader
    from knifecam.drawing import Roles, find_parts, read_drawing, role_thing

    shapes = shapes or {}
    keys = {role_thing(role): f"drawing.{role}" for role in ROLES}
    keys |= {role_thing("shapes", layer): key for layer, key in shapes.items()}
    drawing = read_drawing(file, units=section.units, join=join, strict=False)
    roles = Roles(**{role: _layers(getattr(section, role)) for role in ROLES}, shapes=tuple(shapes))
    try:
        parts = find_parts(drawing, roles)
    except DrawingError as error:
        lines = [renamed(line, keys) for line in error.said]
        # of unknown unit: its figures are told as they stand there
        raise DrawingError(
            lines if drawing.units else [told(line) for line in lines], error.problems
        ) from error
    return DrawingSource(
        parts=parts,
        no_tabs=_no_tabs(parts),
        content=_plain(content),
        notes=(*drawing.notes, *parts.notes),
    )


ROLES = ("outline", "bores", "slots", "tabs", "no_tabs")
"""Keys of ``[drawing]`` that name layers."""


def _layers(given: str | tuple[str, ...] | None) -> tuple[str, ...]:
    return () if given is None else (given,) if isinstance(given, str) else given


def _no_tabs(parts: DrawnParts) -> tuple[Stretch, ...]:
    pairs = np.reshape(np.asarray(parts.no_tab_pairs, dtype=float), (-1, 2, 2))
    if not (len(parts.no_tabs) or len(pairs)):
        return ()
    from knifecam.drawing import no_tab_stretches

    return no_tab_stretches(parts.outline.counter_clockwise(), parts.no_tabs, pairs)


def _plain(content: bytes) -> bytes:
    """Return the bytes with one kind of line end, unless they are binary."""
    return content if b"\0" in content else content.replace(b"\r\n", b"\n")


def from_parts(parts: DrawnParts) -> DrawingSource:
    """Return parts made without a file; their curves and places stand for it."""
    said: list[bytes] = []
    for curve in (parts.outline, *parts.slots, *parts.no_tabs):
        said += [curve.vertices.astype("<f8").tobytes(), curve.bulges.astype("<f8").tobytes()]
    for places in (parts.tabs, parts.no_tab_pairs):
        said.append(np.asarray(places, dtype="<f8").tobytes())
    bores = [
        (b.name, float(b.centre[0]), float(b.centre[1]), float(b.diameter)) for b in parts.bores
    ]
    return DrawingSource(
        parts=parts, no_tabs=_no_tabs(parts), content=b"\0".join([*said, repr(bores).encode()])
    )
