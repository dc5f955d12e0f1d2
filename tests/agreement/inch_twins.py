"""Orders in inches that say what an order in mm says: every figure over 25.4, by the model's own keys."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from knifecam.order.key_values import Either, Entry, Measure, Row, Section, read_quantity
from knifecam.order.order_tables import OrderText
from knifecam.order.toml_text import entry_of, section_of


def inch_twin(text: str) -> str:
    """Return the order of a TOML text in mm as one in inches, for a mill that counts in inches."""
    table = _table(tomllib.loads(text), OrderText)
    table["mill"] = {**table.get("mill", {}), "units": "in"}
    return "\n".join(toml_lines({"units": "in", **table}))


def _table(raw: dict[str, Any], section: type[Section]) -> dict[str, Any]:
    fields = section.model_fields
    return {key: _value(one, fields[key]) if key in fields else one for key, one in raw.items()}


def _value(value: Any, about: FieldInfo) -> Any:
    entry, inner = entry_of(about), section_of(about)
    if entry is not None:
        return _converted(value, entry)
    if inner is not None and isinstance(value, list):
        return [_table(one, inner) for one in value]
    return _table(value, inner) if inner is not None and isinstance(value, dict) else value


def _converted(value: Any, entry: Entry) -> Any:
    if isinstance(entry, Either):
        suited = next((form for form in entry.forms if form.suits(value)), None)
        return value if suited is None else _converted(value, suited)
    if isinstance(entry, Row) and isinstance(value, list):
        return [_converted(one, entry.of) for one in value]
    if (
        isinstance(entry, Measure)
        and isinstance(value, int | float)
        and not isinstance(value, bool)
    ):
        mm, inch = (read_quantity(1.0, entry.kind, units) for units in ("mm", "in"))
        return value if mm == inch else value * mm / inch
    return value


def toml_lines(table: dict[str, Any], path: str = "") -> Iterator[str]:
    """Yield a table's lines: its values, then the tables in it."""
    for key, one in table.items():
        if not isinstance(one, dict) and not _holds_tables(one):
            yield f"{key} = {json.dumps(one)}"
    for key, one in table.items():
        name = f"{path}.{key}" if path else key
        if isinstance(one, dict):
            yield f"[{name}]"
            yield from toml_lines(one, name)
        elif _holds_tables(one):
            for row in one:
                yield f"[[{name}]]"
                yield from toml_lines(row, name)


def _holds_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)
