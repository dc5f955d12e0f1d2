"""What stands where the order is silent, and the record that says so."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import MISSING, fields
from types import MappingProxyType
from typing import Any

from knifecam.order.key_values import Either, Entry, Measure, Row, Section, show
from knifecam.order.toml_text import OrderNotes, entry_of
from knifecam.record import as_written
from knifecam.shop.assumptions import AS_USUAL, MEASURE, Assumption, Why

Proposal = tuple[Any, str | Why]
"""A value and why it is proposed."""

NO_IDLE: Mapping[str, str] = MappingProxyType({})


def with_defaults(
    section: Section,
    path: str,
    notes: OrderNotes,
    *,
    usual: Why = AS_USUAL,
    proposals: dict[str, Proposal] | None = None,
    unsaid: Collection[str] = (),
    idle: Mapping[str, str] = NO_IDLE,
    measure: Collection[str] = (),
    owner: str = "",
) -> dict[str, Any]:
    """Return a value for every key the section shares with its record.

    What is given stands; else a proposal, else the record's own default, called ``usual``.
    Everything not given is noted as assumed, but for the keys ``unsaid``, told elsewhere, and those
    ``idle``, which have no effect for the reason they hold and are refused where given. Keys in
    ``measure`` are noted as ones to measure first; messages call the table ``owner``.
    """
    refuse_idle(section, path, idle, notes)
    proposals = proposals or {}
    found: dict[str, Any] = {}
    defaults = {f.name: f.default for f in fields(section.record)} if section.record else {}
    for key in type(section).model_fields:
        if key not in defaults:
            continue
        given = getattr(section, key)
        if given is None:
            value, why = proposals.get(key, (defaults[key], usual))
            if value is MISSING:
                continue
            if key not in unsaid and key not in idle:
                why = Why(_worded(why).text, MEASURE) if key in measure else why
                note_assumed(section, key, value, why, path, notes, owner=owner)
            given = value
        found[key] = given
    return found


def refuse_idle(section: Section, path: str, idle: Mapping[str, str], notes: OrderNotes) -> None:
    """Refuse by name each key given that has no effect; ``idle`` holds why."""
    for key, why in idle.items():
        if key in section.model_fields_set:
            entry = entry_of(type(section).model_fields[key])
            value = in_words(getattr(section, key), entry, notes.units)
            notes.troubles.append(f"{path}.{key}={value} has no effect {why}; leave it out")


def note_assumed(
    section: Section,
    key: str,
    value: object,
    why: str | Why,
    path: str,
    notes: OrderNotes,
    *,
    owner: str = "",
) -> None:
    """Note one assumed value of the table at ``path``, which messages call ``owner``."""
    entry = entry_of(type(section).model_fields[key])
    said = in_words(value, entry, notes.units)
    notes.assumed.append(Assumption(table=path, key=key, value=said, why=_worded(why), owner=owner))


def _worded(why: str | Why) -> Why:
    return why if isinstance(why, Why) else Why(why)


def in_words(value: object, entry: Entry | None, units: str = "mm") -> str:
    """Return a record's value as an order in ``units`` would write it."""
    if isinstance(entry, Either):
        entry = next((f for f in entry.forms if isinstance(f, (Measure, Row))), None)
    if isinstance(entry, Measure) and isinstance(value, (int, float)):
        return show(float(value), entry.kind, units)
    if isinstance(entry, Row) and isinstance(value, tuple):
        return "[" + ", ".join(in_words(one, entry.of, units) for one in value) + "]"
    if isinstance(value, float):
        return f"{value:g}"
    return as_written(value)
