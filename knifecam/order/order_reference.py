"""The reference of the order, written from the model: every key, unit, default, range, meaning."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import MISSING, fields
from inspect import cleandoc

from pydantic.fields import FieldInfo

from knifecam.order.fill_defaults import in_words
from knifecam.order.key_values import DEFINITIONS, Entry, Flag, Section
from knifecam.order.order_tables import OrderText
from knifecam.order.toml_text import entry_of, is_list, section_of
from knifecam.quantity import told

INTRODUCTION = """\
# The order

Generated from the order's model (`python -m knifecam.order.order_reference`); do not edit it.

An order is one TOML file. It says what to make, from what, and with what. What it leaves out is
proposed, and everything that was proposed is listed with the result. All mistakes are reported
together, one line each, with the key, the value, the rule, and what would do.

**Quantities** are text of a number and a unit (`"0.010 in"`, `"8000 rpm"`, `"120 m/min"`), or bare
numbers. Bare lengths and feeds are in the order's `units`; every other bare number is in the unit
this page names, the one in parentheses when `units = "in"`. Known units: {units}, and their
products and quotients, as in `"0.012 mm/tooth"`. The decimal sign is a point.

**Part frame**: X and Y as drawn, seen from side A. **Program frame**: what the mill shows on a
side, counted from that side's datum. **Stations** are lengths along the outline, counter-clockwise
from its start.

**Lists of tables** such as `[[cutters]]` are counted from 1 in messages.

Where the order or its mill counts in inches, sizes are proposed that such shops have: 2 in for
`mill.change_height`, 0.5 in for `setup.gap_height`, 0.25 in for `setup.gauge_diameter`.

An order in inches is answered in inches: refusals, remarks, measures, findings, pictures. `um` become
`uin`, millionths of an inch, and `N mm` become `in lbf`. Remarks in a program are in the unit that
`mill.units` makes the mill count in. Options of the command line are in mm, and so are all figures
and keys of `verdict.json`.

Ranges are in mm where the order is in mm. "Must be given" stands where nothing can be proposed.
"""


def write_reference() -> str:
    """Return the Markdown of docs/reference/order.md."""
    units = ", ".join(f"`{name}`" for name in _unit_names())
    text = [INTRODUCTION.format(units=units), *_section("At the top", "", OrderText)]
    for key, about in OrderText.model_fields.items():
        inner = section_of(about)
        if inner is not None:
            text += _section(_title(key, about), key, inner)
    return "\n".join(text)


def _unit_names() -> Iterator[str]:
    for line in DEFINITIONS.splitlines():
        left, *names = (part.strip() for part in line.split("="))
        short = [n for n in names[1:] if n.isascii() and n != "_"]
        yield short[0] if short and len(short[0]) < len(left) else left


def _title(key: str, about: FieldInfo) -> str:
    return f"`[[{key}]]`" if is_list(about) else f"`[{key}]`"


def _section(title: str, path: str, section: type[Section]) -> list[str]:
    """Return one section's heading, meaning and table, and those of the tables below it."""
    text = [
        f"## {title}",
        "",
        cleandoc(section.__doc__ or ""),
        "",
        "| key | unit or kind | default | range | meaning |",
        "|---|---|---|---|---|",
    ]
    below: list[str] = []
    for key, about in section.model_fields.items():
        entry, inner = entry_of(about), section_of(about)
        if entry is not None:
            text.append(_row(key, about, entry, section))
        elif inner is not None and section is not OrderText:
            deeper = f"{path}.{key}"
            below += _section(_title(deeper, about), deeper, inner)
    return [*text, "", *below]


def _row(key: str, about: FieldInfo, entry: Entry, section: type[Section]) -> str:
    cells = (
        f"`{key}`",
        entry.unit(),
        _default(key, about, entry, section),
        entry.allowed() if not isinstance(entry, Flag) else "",
        entry.meaning,
    )
    return told("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")


def _default(key: str, about: FieldInfo, entry: Entry, section: type[Section]) -> str:
    if about.is_required():
        return "must be given"
    if entry.default or section.record is None:
        return entry.default
    value = next((f.default for f in fields(section.record) if f.name == key), MISSING)
    return in_words(value, entry)


if __name__ == "__main__":
    sys.stdout.write(write_reference())
