"""What the order did not state, grouped: first what to measure, then what was worked out, then usual.

An assumed line is "path = value (why)", as `knifecam.order` writes it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence

WIDTH = 110

YOURS = ("measure yours", "state your own")
"""Why a value is one that a maker can look up at the bench, and should."""

USUAL = ("usual", "common practice")

MATTERS = (
    "mill.travel",
    "mill.spindle_low",
    "mill.spindle_high",
    "mill.feed_high",
    "mill.air_word",
)
"""Of the mill's values those that decide whether it can do the work; the others are usual ones."""


def assumed_lines(assumed: Sequence[str], *, whole: bool = False) -> Iterator[str]:
    """Yield the assumptions: every one on its own line where ``whole``, else grouped."""
    if whole:
        yield from (f"  assumed: {line}" for line in assumed)
        return
    rows = [_parted(line) for line in assumed]
    yield from _group("not stated, so guessed; measure or look these up first:", rows, "yours")
    yield from _group("not stated, so proposed:", rows, "proposed")
    usual = [path for path, _, why in rows if _kind(path, why) == "usual"]
    if usual:
        yield f"not stated, so as usual: {len(usual)} values in {_tables(usual)}; --assumed lists all"


def _parted(line: str) -> tuple[str, str, str]:
    """Return path, value and why; a line of another form is all path."""
    found = re.fullmatch(r"(.+?) = (.+) \(([^()]*)\)", line)
    return (found[1], found[2], found[3]) if found else (line, "", "")


def _kind(path: str, why: str) -> str:
    if path in MATTERS or (not why and path.startswith("mill")):
        return "yours"
    if any(word in why for word in YOURS) and not path.startswith("mill"):
        return "yours"
    if path.startswith("cutters") and path.endswith(".flutes"):
        return "yours"
    return "usual" if why in USUAL or path.startswith("mill") else "proposed"


def _group(title: str, rows: Sequence[tuple[str, str, str]], kind: str) -> Iterator[str]:
    by_table: dict[str, list[str]] = {}
    for path, value, why in rows:
        if _kind(path, why) != kind:
            continue
        table, _, key = path.rpartition(".") if " " not in path else (path, "", "")
        said = f"{key} {value}".strip() if table != path else value
        by_table.setdefault(table or path, []).append(said)
    if by_table:
        yield title
    for table, keys in by_table.items():
        text = f"{table}: {', '.join(keys)}" if any(keys) else table
        yield from textwrap.wrap(
            text, WIDTH, initial_indent="  ", subsequent_indent="    ", break_long_words=False
        )


def _tables(paths: Sequence[str]) -> str:
    return ", ".join(dict.fromkeys(re.split(r"[.\[]", path)[0] for path in paths))
