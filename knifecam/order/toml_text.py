"""From TOML text to the model's sections; everything wrong is collected, one line each."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from typing import Any, cast, get_args, get_origin

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from knifecam.errors import NotTomlError
from knifecam.order.blade_tables import (
    BevellingSection,
    BevelSection,
    BladeSection,
    BoresSection,
    DrawingSection,
    EdgeBreakSection,
    JimpingSection,
    OutlineSection,
    PatternSection,
    SlotSection,
    TabsSection,
    WorkholdingSection,
)
from knifecam.order.key_values import UNITS, Entry, Measure, Section
from knifecam.order.order_tables import (
    ClampSection,
    CutterSection,
    CuttingSection,
    MillSection,
    OrderText,
    PlateSection,
    RegistrationSection,
    SetupSection,
)
from knifecam.record import as_written, printable
from knifecam.shop.assumptions import Assumption
from knifecam.shop.cutting_data import CuttingData, usual_data


@dataclass(slots=True)
class OrderNotes:
    """What was found wrong, and what was assumed, while an order is read.

    ``units`` are the order's; ``inch_sizes``: whether sizes are proposed that inch shops have.
    ``data`` is what cutting data is proposed from, ``own_data`` the text of the maker's own file.
    """

    units: str = "mm"
    inch_sizes: bool = False
    data: CuttingData = field(default_factory=usual_data)
    own_data: str = ""

    troubles: list[str] = field(default_factory=list)
    assumed: list[Assumption] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTables:
    """The order's sections as read; None where one is missing or not sound."""

    name: str | None
    units: str | None
    drawing: DrawingSection | None
    blade: BladeSection | None
    bevels: tuple[BevelSection, ...] | None
    bevelling: BevellingSection | None
    slots: tuple[SlotSection, ...] | None
    patterns: tuple[PatternSection, ...] | None
    jimping: tuple[JimpingSection, ...] | None
    edge_breaks: tuple[EdgeBreakSection, ...] | None
    plate: PlateSection | None
    cutters: tuple[CutterSection, ...] | None
    cutting: tuple[CuttingSection, ...] | None
    mill: MillSection | None
    setup: SetupSection | None
    outline: OutlineSection | None
    tabs: TabsSection | None
    bores: BoresSection | None
    workholding: WorkholdingSection | None
    registration: RegistrationSection | None
    clamps: tuple[ClampSection, ...] | None


def parsed(text: str) -> dict[str, Any]:
    """Return the TOML as a dictionary; raises `NotTomlError` with line and column."""
    try:
        return tomllib.loads(text.removeprefix("\ufeff").replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise NotTomlError(_not_toml(text, str(error))) from error
    except (RecursionError, ValueError) as error:
        raise NotTomlError(
            "the order is not TOML a maker would write: it is nested too deeply, or a number in it"
            " has thousands of digits"
        ) from error


def _not_toml(text: str, says: str) -> str:
    """Return what is wrong with the text, the line it is in, and what would do."""
    if re.match(r"\s*(0\s+SECTION|999\s|AutoCAD Binary DXF)", text):
        return (
            "the order is not TOML: this is a drawing in DXF; give the order, a text file that names"
            " the drawing under [drawing]"
        )
    says = says.replace("at end of document", f"at its end, line {text.count(chr(10)) + 1}")
    found = re.search(r"line (\d+)", says)
    row = text.splitlines()[int(found[1]) - 1].strip() if found and text.strip() else ""
    clean = printable(row)
    shown_row = f": {clean[:60]}" if clean else ""
    return f"the order is not TOML: {says[:1].lower()}{says[1:]}{shown_row}; {_hint(clean, says)}"


def _hint(row: str, says: str) -> str:
    """Return what would do for a line that is no TOML."""
    value = row.partition("=")[2].strip()
    if re.match(r"[+-]?\d+,\d", value):
        return "write a decimal point"
    if "overwrite" in says or "twice" in says:
        return "the key or table stands twice; keep one of them"
    if "string" in says:
        return "close the quotes in the line they begin in"
    if row.startswith("["):
        return "a table is [name], one of several [[name]]"
    if re.match(r"[A-Za-z]", value):
        return 'write text in quotes, as key = "text"'
    if "=" not in row:
        return "every line is key = value, [table] or # a remark"
    return 'write numbers plain, text and numbers with a unit in quotes, as key = "0.01 in"'


def unit_of(raw: dict[str, Any]) -> str:
    """Return the unit that an order's table declares; "mm" where it declares none that is known."""
    units = raw.get("units")
    return units if isinstance(units, str) and units in UNITS else "mm"


def read_sections(raw: dict[str, Any], notes: OrderNotes) -> OrderTables:
    """Return the sound sections; what is wrong in the others goes to ``notes``."""
    context = {"units": unit_of(raw)}
    spoiled: set[str] = set()
    try:
        OrderText.model_validate(raw, context=context)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            spoiled.add(str(detail["loc"][0]) if detail["loc"] else "")
            notes.troubles += _lines(detail, context["units"] if "units" in raw else "")
    found = {
        one.name: None if one.name in spoiled else _section(one.name, raw, context)
        for one in fields(OrderTables)
    }
    return OrderTables(**found)


def _section(name: str, raw: dict[str, Any], context: dict[str, str]) -> Any:
    about = OrderText.model_fields[name]
    if name not in raw:
        return None if about.is_required() else about.default
    entry = entry_of(about)
    if entry is not None:
        return entry.read(raw[name], context["units"])
    reader: TypeAdapter[Any] = TypeAdapter(cast(Any, about.annotation))
    return reader.validate_python(raw[name], context=context)


def entry_of(about: FieldInfo) -> Entry | None:
    """Return the entry that reads a key, or None where a table stands."""
    return next((m for m in about.metadata if isinstance(m, Entry)), None)


def section_of(about: FieldInfo) -> type[Section] | None:
    """Return the section that stands at a key, alone or in a list, or None."""
    return next(_sections_in(about.annotation), None)


def _sections_in(annotation: object) -> Iterator[type[Section]]:
    if isinstance(annotation, type) and not get_args(annotation):
        if issubclass(annotation, Section):
            yield annotation
        return
    for inner in get_args(annotation):
        yield from _sections_in(inner)


def is_list(about: FieldInfo) -> bool:
    """Tell whether a key holds a list of sections."""
    return get_origin(about.annotation) is tuple


def _path(loc: Sequence[int | str]) -> str:
    text = ""
    for step in loc:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            clean = printable(step)[:60]
            text += f".{clean}" if text else clean
    return text


def _lines(detail: ErrorDetails, units: str) -> list[str]:
    path, kind, value = _path(detail["loc"]), detail["type"], detail["input"]
    if kind == "refused":
        return [f"{path}{below}={seen} {rule}" for below, seen, rule in detail["ctx"]["troubles"]]
    if kind == "missing":
        return [f"{path} is missing; {_wanted(detail['loc'], units)}"]
    if kind == "extra_forbidden":
        return [f"{path}={as_written(value)} is no key of an order; {_nearest(detail['loc'])}"]
    if kind in ("tuple_type", "list_type"):
        return [f"{path}={as_written(value)} must be a list of tables; write [[{path}]]"]
    return [f"{path}={as_written(value)} must be a table of keys; write [{path}]"]


def _place(loc: Sequence[int | str]) -> tuple[type[Section], FieldInfo | None]:
    """Return the section that holds the last step of ``loc`` and what stands there, if known."""
    section: type[Section] = OrderText
    for step in loc[:-1]:
        if isinstance(step, str):
            about = section.model_fields.get(step)
            section = (about and section_of(about)) or section
    return section, section.model_fields.get(str(loc[-1]))


def _wanted(loc: Sequence[int | str], units: str) -> str:
    _, about = _place(loc)
    entry = entry_of(about) if about else None
    if entry is None:
        name = str(loc[-1])
        return f"describe it under {f'[[{name}]]' if about and is_list(about) else f'[{name}]'}"
    example = f', such as "{entry.kind.example}"' if isinstance(entry, Measure) else ""
    return f"give {entry.meaning} ({entry.unit(units)}{example})"


def _nearest(loc: Sequence[int | str]) -> str:
    section, _ = _place(loc)
    key = str(loc[-1])
    near = get_close_matches(key, section.model_fields, 1, 0.6)
    if near:
        return f'the nearest is "{near[0]}"'
    homes = [
        f"[[{name}]]" if is_list(about) else f"[{name}]"
        for name, about in OrderText.model_fields.items()
        if (inner := section_of(about)) and key in inner.model_fields
    ]
    if key in OrderText.model_fields and section is not OrderText:
        homes.append("the top of the order")
    if homes:
        return f"it belongs to {' or '.join(homes)}"
    return f"known here are {', '.join(section.model_fields)}"
