"""What an order did not state: each value that was assumed, grouped, and which message rests on it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from knifecam.quantity import rests_on, told

MEASURE, PROPOSED, USUAL = "measure", "proposed", "usual"
"""What a maker does about an assumed value: measures it first, looks at it, leaves it alone."""


@dataclass(frozen=True, slots=True)
class Why:
    """Why a value is assumed, in words, and what a maker does about it."""

    text: str
    kind: str = PROPOSED


AS_USUAL, PRACTICE = Why("usual", USUAL), Why("common practice", USUAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One value, or one table, that the order did not state.

    ``table`` and ``key`` are its path; without a ``key`` the table as a whole was assumed, and
    ``value`` says what of it. ``owner`` is how messages call the table where they have another name
    for it, such as "cutter 7" for "cutters[1]".
    """

    table: str
    key: str = ""
    value: str
    why: Why = Why("")
    owner: str = ""

    @property
    def section(self) -> str:
        """The top table of the order that it belongs to."""
        return self.table.partition(".")[0].partition("[")[0]

    @property
    def path(self) -> str:
        """The path that a line names it by."""
        return f"{self.table}.{self.key}" if self.key else self.owner or self.table

    def __str__(self) -> str:
        """Return it as a line."""
        why = f" ({self.why.text})" if self.why.text else ""
        return f"{self.path}{' =' if self.key else ':'} {self.value}{why}"

    def told_in(self, units: str) -> Assumption:
        """Return it with its quantities in one unit, "mm" or "in"."""
        why = replace(self.why, text=told(self.why.text, units))
        return replace(self, value=told(self.value, units), why=why)

    def bears(self, path: str) -> bool:
        """Tell whether a line that rests on the value at ``path`` rests on this one.

        A table assumed as a whole bears by its owner alone: what is said of the mill's zeros is no
        ground for its travel.
        """
        if not self.key:
            return bool(self.owner) and _holds(self.owner, path)
        return any(_holds(f"{table}.{self.key}", path) for table in (self.table, self.owner))


def _holds(outer: str, path: str) -> bool:
    """Tell whether a path is another, or one of what that holds."""
    return path == outer or path.startswith((f"{outer}.", f"{outer}["))


MOST_DEFAULTS_NAMED = 3


def unstated(
    assumed: Sequence[Assumption], paths: Sequence[str], of_kind: Sequence[str] = ()
) -> tuple[Assumption, ...]:
    """Return the assumptions that a line rests on, in the order's sequence.

    Parameters
    ----------
    assumed : the order's assumptions
    paths : what the line rests on, as `knifecam.quantity.rests_on` reads it
    of_kind : keys that its kind of finding rests on, whatever its line; "cutters" is the one it marks
    """
    return tuple(
        one
        for one in assumed
        if any(one.bears(path) for path in paths) or _of_kind(one, paths, of_kind)
    )


def _of_kind(one: Assumption, paths: Sequence[str], keys: Sequence[str]) -> bool:
    """Tell whether a kind of finding rests on a value; of cutters, those of the one it marks."""
    if f"{one.section}.{one.key}" not in keys:
        return False
    marked = [path.partition(".")[0] for path in paths if path.startswith("cutter ")]
    return one.section != "cutters" or not marked or one.owner in marked


def with_unstated(assumed: Sequence[Assumption], lines: Iterable[str]) -> list[str]:
    """Return lines, each with what it rests on that the order did not state."""
    return [line + _clause(unstated(assumed, rests_on(line))) for line in lines]


def _clause(rests: Sequence[Assumption]) -> str:
    if not rests:
        return ""
    more = (
        f" and {len(rests) - MOST_DEFAULTS_NAMED} more" if len(rests) > MOST_DEFAULTS_NAMED else ""
    )
    return f" [default, not set in the order: {', '.join(map(str, rests[:MOST_DEFAULTS_NAMED]))}{more}]"


LINE_CHARACTERS = 110


def assumed_lines(assumed: Sequence[Assumption], *, whole: bool = False) -> Iterator[str]:
    """Yield the assumptions: every one on its own line where ``whole``, else grouped."""
    if whole:
        yield from (f"  assumed: {one}" for one in assumed)
        return
    of_kind = {
        kind: [one for one in assumed if one.why.kind == kind]
        for kind in (MEASURE, PROPOSED, USUAL)
    }
    yield from _group("guessed: measure these before cutting:", of_kind[MEASURE])
    yield from _group("proposed defaults:", of_kind[PROPOSED])
    if usual := of_kind[USUAL]:
        tables = ", ".join(dict.fromkeys(one.section for one in usual))
        yield f"defaults used for {len(usual)} other values in {tables} (list: --assumed)"


def _group(title: str, rows: Sequence[Assumption]) -> Iterator[str]:
    """Yield what was assumed, a table a line; what was assumed as a whole has lines of its own."""
    told_of: dict[str, str] = {}
    for one in rows:
        if not one.key:
            told_of[f"{one.path}: {one.value}"] = ""
        elif one.table in told_of:
            told_of[one.table] += f", {one.key} {one.value}"
        else:
            told_of[one.table] = f": {one.key} {one.value}"
    if told_of:
        yield title
    for head, values in told_of.items():
        yield from textwrap.wrap(
            head + values, LINE_CHARACTERS, initial_indent="  ", subsequent_indent="    ",
            break_long_words=False,
        )  # fmt: skip
