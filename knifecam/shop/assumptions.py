"""What an order did not state, grouped, and which message rests on it.

An assumed line is "path = value (why)", as `knifecam.order` writes it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence

RESTS_ON = {
    "travel": ("mill.travel", "mill.travel_from"),
    "reach": ("cutters.flute_length", "cutters.reach", "cutters.neck"),
    "shank-contact": ("cutters.shank", "cutters.stickout", "cutters.cone", "cutters.holder"),
    "keep-out": ("cutters.stickout", "cutters.holder"),
    "steep-entry": ("cutters.ramp", "cutters.may_plunge"),
    "feed": ("mill.feed_high",),
    "spindle": ("mill.spindle_low", "mill.spindle_high"),
    "coolant": ("mill.air_word",),
    "frame": ("outline.frame",),
}
"""Keys that each kind of finding rests on, whatever its words; "cutters" is the cutter it names."""


WORDS = {"flutes": "flute_length"}
"""Words of messages that stand for a key."""


LISTED = 3


def unstated(
    assumed: Sequence[str], numbers: Sequence[int], text: str, kind: str = ""
) -> tuple[str, ...]:
    """Return the assumed lines that a message rests on, in the order's sequence.

    Parameters
    ----------
    assumed : lines "path = value (why)"
    numbers : the cutters' numbers, as they are listed in the order
    text : the message, which names values as ``key=value`` or ``table.key=value``
    kind : the finding's kind, if it is one
    """
    wanted = {f"cutters[{k}].{key}" for k, key in _of_cutters(numbers, text)}
    for path in RESTS_ON.get(kind, ()):
        table, _, key = path.partition(".")
        named = _cutters_named(numbers, text) or range(1, len(numbers) + 1)
        wanted |= {f"cutters[{k}].{key}" for k in named} if table == "cutters" else {path}
    return tuple(line for line in assumed if _path(line) in wanted or _named(_path(line), text))


def with_unstated(
    assumed: Sequence[str], numbers: Sequence[int], lines: Iterable[str]
) -> list[str]:
    """Return messages, each with what it rests on that the order did not state."""
    return [line + _clause(unstated(assumed, numbers, line)) for line in lines]


def _clause(rests: Sequence[str]) -> str:
    if not rests:
        return ""
    more = f" and {len(rests) - LISTED} more" if len(rests) > LISTED else ""
    return f" [the order does not state {', '.join(rests[:LISTED])}{more}]"


def _path(line: str) -> str:
    return line.split(" = ", 1)[0]


def _named(path: str, text: str) -> bool:
    """Tell whether a message names a value by its path, with or without a place in its list."""
    value = "" if path.endswith('"') else r"(\[\d+\])?="
    return re.search(rf"(?<![\w.]){re.escape(path)}{value}", text) is not None


def _cutters_named(numbers: Sequence[int], text: str) -> list[int]:
    """Return the places, from 1, of the cutters that a message names by number."""
    found = re.findall(r"\bcutter (\d+)(?: and (\d+))?", text)
    named = {int(n) for pair in found for n in pair if n}
    return [place for place, number in enumerate(numbers, start=1) if number in named]


def _of_cutters(numbers: Sequence[int], text: str) -> Iterator[tuple[int, str]]:
    """Yield places of cutters and keys, where a message names a cutter once and then keys alone."""
    keys = {*re.findall(r"\b([a-z_]+)=", text)}
    of_words = {key for word, key in WORDS.items() if re.search(rf"\b{word}\b", text)}
    for place in range(1, len(numbers) + 1):
        if f"cutters[{place}]." in text:
            yield from ((place, key) for key in sorted(keys))
    for place in _cutters_named(numbers, text):
        yield from ((place, key) for key in sorted(keys | of_words))


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
