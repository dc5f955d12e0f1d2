"""From an order's text to the Order record: all troubles are raised together."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from knifecam.blade import Blade
from knifecam.errors import (
    DrawingError,
    NotTomlError,
    OrderError,
    RefusedOrderError,
    telling_in,
)
from knifecam.files import read_file
from knifecam.order.build_blade import bevelling_of, blade_of, with_bevels
from knifecam.order.build_details import with_details, with_openings
from knifecam.order.build_outline import boring_of, tabs_of, trench_of, workholding_of
from knifecam.order.build_setup import (
    clamp_of,
    cutter_of,
    cutting_of,
    mill_of,
    plate_of,
    registration_of,
    setup_of,
)
from knifecam.order.drawing_source import DrawingSource, DrawnParts, from_parts, read_drawn
from knifecam.order.key_values import Section
from knifecam.order.order_tables import CutterSection, OrderText
from knifecam.order.toml_text import OrderNotes, OrderTables, parsed, read_sections, unit_of
from knifecam.quantity import renamed, told
from knifecam.record import RECORD, printable
from knifecam.rules import (
    clamp_rules,
    cutter_rules,
    opening_rules,
    setup_rules,
    tab_rules,
    trench_rules,
    workholding_rules,
)
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.assumptions import Assumption, with_unstated
from knifecam.shop.cutting_data import own_data, usual_data


def load_order(path: str | Path) -> Order:
    """Return the order of a TOML file; the drawing it names lies beside it.

    Raises
    ------
    OrderError
        For everything wrong with the order, one line each; `RefusedOrderError` where all of it
        could be read.
    DrawingError
        When only the drawing is wrong.
    """
    file = Path(path)
    named = printable(str(file))
    try:
        text = read_file(file).decode("utf-8-sig")
    except FileNotFoundError as error:
        raise OrderError(f'order="{named}": no such file') from error
    except UnicodeDecodeError as error:
        raise OrderError(
            f'order="{named}": byte {error.start} is not UTF-8 text; save the order as UTF-8'
        ) from error
    except (OSError, ValueError) as error:
        raise OrderError(f'order="{named}" cannot be read: {_reason(error)}') from error
    try:
        return order_from_text(text, folder=file.parent)
    except NotTomlError as error:
        raise OrderError(f'order="{named}": {error.lines[0]}') from error


def _reason(error: Exception) -> str:
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:]


def order_from_text(text: str, *, folder: str | Path, drawing: DrawnParts | None = None) -> Order:
    """Return the order of a TOML text.

    Parameters
    ----------
    text : str
        The order; docs/reference/order.md explains every key.
    folder : str or Path
        Where the drawing named in the order is looked for.
    drawing : DrawnParts, optional
        The parts of a drawing already read; then ``[drawing]`` may be left out.

    Raises
    ------
    OrderError
        For everything wrong with the order, one line each; the drawing's troubles among them.
    DrawingError
        When only the drawing is wrong.
    """
    raw = parsed(text)
    with telling_in(unit_of(raw)):
        return _read(raw, Path(folder), drawing)


def _read(raw: dict[str, Any], folder: Path, drawing: DrawnParts | None) -> Order:
    """Return the order of a table; raises as `order_from_text` does."""
    notes = OrderNotes()
    sections = read_sections(raw, notes)
    notes.units = unit_of(raw)
    notes.inch_sizes = "in" in (sections.units, sections.mill and sections.mill.units)
    _take_data(sections, folder, notes)
    drawn: DrawingSource | None = None
    unread: DrawingError | None = None
    try:
        drawn = _drawn(raw, sections, folder, drawing, notes)
    except DrawingError as error:
        unread = error
    read = drawn is not None and not notes.troubles
    order = _assembled(sections, drawn, notes)
    if unread is not None and not notes.troubles:
        raise unread
    if order is None:
        kind = RefusedOrderError if read else OrderError
        raise kind((*notes.troubles, *(unread.said if unread else ())))
    return order


def _drawn(
    raw: dict[str, Any],
    sections: OrderTables,
    folder: Path,
    parts: DrawnParts | None,
    notes: OrderNotes,
) -> DrawingSource | None:
    """Return the drawing; what is the order's fault goes to ``notes``, its own is raised."""
    if parts is not None:
        return from_parts(parts)
    if sections.drawing is not None:
        return read_drawn(sections.drawing, folder, notes, _shapes(sections))
    if "drawing" not in raw:
        notes.troubles.append(
            'drawing is missing; name the DXF file under [drawing], as file = "blade.dxf"'
        )
    return None


def _take_data(sections: OrderTables, folder: Path, notes: OrderNotes) -> None:
    """Put the cutting data that the order names into ``notes``, at its pace; or what is wrong with it."""
    mill = sections.mill
    pace = (mill and mill.pace) or "usual"
    notes.data = usual_data(pace)
    if mill is None or mill.cutting_data is None:
        return
    name = printable(mill.cutting_data)
    try:
        notes.own_data = read_file(folder / mill.cutting_data).decode("utf-8-sig")
        notes.data = own_data(notes.own_data, name, pace)
    except OrderError as error:
        notes.troubles += [f"mill.{line}" for line in error.said]
    except (OSError, ValueError) as error:
        notes.troubles.append(
            f'mill.cutting_data="{name}" cannot be read: {_reason(error)}; its path is seen from the'
            " order's folder"
        )


def _shapes(sections: OrderTables) -> dict[str, str]:
    """Return the layers that patterns, edges and plunges are made of, and the key that names each."""
    return {layer: key for key, layer in reversed(_naming(sections))}


def _naming(sections: OrderTables) -> list[tuple[str, str]]:
    """Return the keys that name layers of shapes, and the layers."""
    keys = ("cell", "region", "along"), ("edge", "plunge")
    tables = ("patterns", sections.patterns or ()), ("bevels", sections.bevels or ())
    named = [
        (f"{table}[{place}].{key}", getattr(one, key))
        for own, (table, many) in zip(keys, tables, strict=True)
        for place, one in enumerate(many, start=1)
        for key in own
    ]
    return [(key, layer) for key, layer in named if isinstance(layer, str)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """The order's records, as far as the sections they rest on are sound; else None."""

    cutters: Any
    cutting: Any
    mill: Any
    plate: Any
    registration: Any
    blade: Any
    trench: Any
    tabs: Any
    boring: Any
    bevelling: Any
    hold: Any
    setup: Any


def _if_known(make: Callable[..., Any], *known: Any) -> Any:
    """Return what ``make`` makes, or None when anything it needs is not sound."""
    return None if any(one is None for one in known) else make(*known)


def _collected(notes: OrderNotes, path: str, make: Callable[..., Any], *known: Any) -> Any:
    """Return what ``make`` makes, or None; what a record refuses goes to ``notes``, told by path."""
    try:
        return _if_known(make, *known)
    except OrderError as error:
        notes.troubles += [renamed(line, {RECORD: path}) for line in error.said]
        return None


def _cutters(
    many: tuple[CutterSection, ...], thickness: float, notes: OrderNotes
) -> tuple[Cutter, ...] | None:
    made = [
        _collected(notes, f"cutters[{place}]", cutter_of, one, place, thickness, notes)
        for place, one in enumerate(many, start=1)
    ]
    return None if None in made else tuple(made)


def _made(s: OrderTables, drawn: DrawingSource | None, notes: OrderNotes) -> _Made:
    made = partial(_collected, notes)
    parts = drawn.parts if drawn else None
    outline = parts.outline.counter_clockwise() if parts else None
    mill = made("mill", mill_of, s.mill, notes)
    plate = made("plate", plate_of, s.plate, outline, notes)
    cutters = _if_known(_cutters, s.cutters, plate.thickness if plate else 0.0, notes)
    joined = made("registration.bores", registration_of, s.registration, plate, outline, notes)
    blade = made("drawing", blade_of, s.blade, s.bores, parts, plate, notes)
    blade = made("patterns", with_openings, blade, s.slots, s.patterns, parts, notes)
    blade = made("bevels", with_bevels, blade, s.bevels, parts, notes)
    blade = made("jimping", with_details, blade, s.jimping, s.edge_breaks, notes)
    necks = bool(s.tabs and s.tabs.neck)
    bevelling = made("bevelling", bevelling_of, s.bevelling, blade, notes)
    wanted = (mill, blade, joined, notes, necks, bevelling)
    cutting = made("cutting", cutting_of, s.cutting, cutters, *wanted)
    trench = made("outline", trench_of, s.outline, blade, cutting, cutters, notes)
    with_what = (cutting or (), cutters or ())
    tabs = made("tabs", tabs_of, s.tabs, s.outline, s.workholding, blade, drawn, notes, *with_what)
    boring = made("bores", boring_of, s.bores, blade, cutting, cutters, joined, notes)
    hold = made("workholding", workholding_of, s.workholding, notes)
    stood = (s.setup, s.plate, s.clamps, plate, mill, joined, hold, boring, blade, notes)
    return _Made(
        cutters=cutters,
        cutting=cutting,
        mill=mill,
        plate=plate,
        registration=joined,
        blade=blade,
        trench=trench,
        tabs=tabs,
        boring=boring,
        bevelling=bevelling,
        hold=hold,
        setup=made("setup", setup_of, *stood),
    )


def _contradictions(m: _Made, clamps: Any) -> list[str]:
    """Return what contradicts itself among the records that could be made."""
    checks: tuple[tuple[Callable[..., Iterable[str]], tuple[Any, ...]], ...] = (
        (cutter_rules.check_cutters, (m.cutters,)),
        (setup_rules.check_mill, (m.mill,)),
        (cutter_rules.check_cutting, (m.cutting, m.cutters, m.mill)),
        (_excess, (m.cutting, m.cutters, m.blade)),
        (cutter_rules.check_stages, (m.cutting, m.blade, m.registration, m.tabs, m.cutters)),
        (setup_rules.check_plate, (m.plate,)),
        (setup_rules.check_blade_in_plate, (m.plate, m.blade)),
        (tab_rules.check_tabs, (m.tabs, m.blade)),
        (trench_rules.check_trench, (m.trench, m.blade)),
        (opening_rules.check_boring, (m.boring, m.blade, m.setup)),
        (workholding_rules.check_workholding, (m.hold, m.blade)),
        (setup_rules.check_registration, (m.registration,)),
        (setup_rules.check_reference_bores, (m.registration, m.plate, m.blade, m.trench)),
        (setup_rules.check_setup, (m.setup, m.cutters)),
        (clamp_rules.check_clamps, (clamps,)),
    )
    return [line for find, known in checks for line in _if_known(find, *known) or ()]


def _excess(
    cutting: tuple[Cutting, ...], cutters: tuple[Cutter, ...], blade: Blade
) -> Iterable[str]:
    return cutter_rules.check_excess(cutting, cutters, blade.steel.hardness_hrc)


def _assembled(
    sections: OrderTables, drawn: DrawingSource | None, notes: OrderNotes
) -> Order | None:
    """Return the order, or None when something is not sound; ``notes`` says what."""
    made = _made(sections, drawn, notes)
    boxes = _if_known(lambda many: tuple(clamp_of(k) for k in many), sections.clamps)
    notes.troubles += with_unstated(notes.assumed, _contradictions(made, boxes))
    if notes.troubles or drawn is None or sections.name is None:
        return None
    return Order(
        name=sections.name,
        blade=made.blade,
        setup=made.setup,
        cutters=made.cutters,
        cutting=made.cutting,
        tabs=made.tabs,
        trench=made.trench,
        boring=made.boring,
        bevelling=made.bevelling,
        outline_layers=tuple(getattr(drawn.parts, "layers", ())),
        drawn_notes=tuple(told(note, notes.units) for note in drawn.notes),
        digest=order_digest(sections, drawn, notes.own_data),
        units=notes.units,
        assumed=tuple(
            one.told_in(notes.units) for one in sorted(notes.assumed, key=_place_of_section)
        ),
    )


def _place_of_section(assumed: Assumption) -> int:
    """Return the place in the order of the section an assumption is about."""
    return list(OrderText.model_fields).index(assumed.section)


def order_digest(sections: OrderTables, drawn: DrawingSource, own_data: str = "") -> str:
    """Return 16 hexadecimal digits that stand for what the order says and what its files hold.

    Only what is said counts, in mm and rad: comments, the order of keys and the places of the files
    make no difference, nor does a key about which the order is silent. The unit does: what an order in
    inches leaves open is proposed in sizes of inch shops.
    """
    said = dict(_said(OrderText, sections))
    for name in ("drawing.file", "mill.cutting_data"):
        said.pop(name, None)
    if said.get("units") == "mm":
        del said["units"]
    text = json.dumps(said, sort_keys=True)
    files = drawn.content + own_data.encode()
    return hashlib.sha256(text.encode() + b"\0" + files).hexdigest()[:16]


def _said(table: type[Section], held: object, path: str = "") -> Iterator[tuple[str, Any]]:
    """Return ``table.key`` and value of all that differs from the table's own defaults.

    Tables in a list have their place in the key; the list's own key has their number, so that one
    which says nothing counts too.
    """
    for key, about in table.model_fields.items():
        value, name = getattr(held, key), f"{path}{key}"
        if isinstance(value, Section):
            yield from _said(type(value), value, f"{name}.")
        elif isinstance(value, tuple) and any(isinstance(one, Section) for one in value):
            yield name, len(value)
            for place, one in enumerate(value, start=1):
                yield from _said(type(one), one, f"{name}[{place}].")
        elif value != about.default:
            yield name, value
