"""What every refusal must tell: a key of the order, and the place or the thing it is about."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, get_args

from knifecam.order.order_tables import OrderText

PLACES = (
    r"\(-?\d+\.\d+, -?\d+\.\d+\)",  # in the part frame
    r"\bstations? \d",
    r"\b(stations|cutters|cutting|measured|screws|clamps|travel|thickness)\[\d+\]",
    r"\bcutter \d+",
    r"\b(bevel|bore|slot|jimping|edge break|clamps|screw) '[^']+'",
    r"\bhead over bore '[^']+'",
    r"\bon the (left|right|lower|upper) edge",
    r"\bstage [\"']\w",
    r"\b(tabs|hold|setup|mill|plate|outline|bores|bevelling|registration)\.\w+=",  # there is one of it
)
"""How a line says where: a place, a station, an entry of a list, or a named part of the blade."""


def _models(kind: Any) -> Iterator[type]:
    """Yield the sections that a field's annotation holds."""
    if isinstance(kind, type) and hasattr(kind, "model_fields"):
        yield kind
    for part in get_args(kind):
        yield from _models(part)


def _keys(section: Any) -> Iterator[str]:
    for name, field in section.model_fields.items():
        yield name
        for model in _models(field.annotation):
            yield from _keys(model)


KEYS = frozenset(_keys(OrderText))
"""Every key of an order."""


def keys_in(line: str) -> set[str]:
    """Return the keys that a line names: ``key=value``, ``table.key``, ``[[table]]``, or at its head."""
    words = re.findall(r"\b(\w+)(?:\[\d+\])?\s?=", line)
    words += re.findall(r"^(\w+)[: ]", line)
    words += re.findall(r"\b\w+\.(\w+)", line) + re.findall(r"\[\[(\w+)\]\]", line)
    return KEYS & set(words)


def places_in(line: str) -> list[str]:
    """Return what of a line says where."""
    return [found.group() for one in PLACES if (found := re.search(one, line))]
