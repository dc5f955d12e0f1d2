"""Ways to spoil a good program: each takes a text and returns another, and says which line.

Lines are counted from 1, as findings count them. A pattern is searched for in whole lines; a
``cut`` is named by words of its opening phrase, such as "OUTLINE WALL".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from knifecam.shop import Order

Texts = tuple[str | None, str | None]


@dataclass(frozen=True, kw_only=True)
class Spoilt:
    """An order with its texts, one of them (or the order) wrong; ``line`` is the wrong one."""

    order: Order
    texts: Texts
    line: int | None = None


def rows(text: str) -> list[str]:
    return text.splitlines()


def joined(lines: list[str]) -> str:
    return "\n".join(lines) + "\n"


def span(text: str, cut: str) -> tuple[int, int]:
    """Return the first and the last line of a cut, its opening phrase the first."""
    lines = rows(text)
    starts = [k for k, row in enumerate(lines, 1) if re.match(r"\(CUT \d+ OF", row)]
    begin = next(k for k in starts if cut in lines[k - 1])
    later = [k for k in starts if k > begin]
    return begin, (later[0] - 1 if later else len(lines) - 1)


def matching(text: str, pattern: str, *, cut: str = "") -> list[int]:
    """Return all lines with the pattern, of one cut or of the whole text."""
    low, high = span(text, cut) if cut else (1, len(rows(text)))
    found = [k for k in range(low, high + 1) if re.search(pattern, rows(text)[k - 1])]
    assert found, f"no line matches {pattern!r} in {cut or 'the text'}"
    return found


def nth(text: str, pattern: str, *, cut: str = "", number: int = 0) -> int:
    """Return the line of one match; the last for number -1."""
    return matching(text, pattern, cut=cut)[number]


def replaced(text: str, line: int, new: str) -> str:
    lines = rows(text)
    lines[line - 1] = new
    return joined(lines)


def edited(text: str, line: int, pattern: str, new: str) -> str:
    """Return the text with a pattern of one line replaced."""
    old = rows(text)[line - 1]
    changed = re.sub(pattern, new, old)
    assert changed != old, f"{pattern!r} changes nothing in {old!r}"
    return replaced(text, line, changed)


def dropped(text: str, first: int, last: int | None = None) -> str:
    """Return the text without a line, or without several."""
    lines = rows(text)
    return joined(lines[: first - 1] + lines[last or first :])


def inserted(text: str, line: int, new: str) -> str:
    """Return the text with ``new`` before a line, so that it gets its number."""
    lines = rows(text)
    return joined([*lines[: line - 1], *rows(new), *lines[line - 1 :]])


def doubled(text: str, line: int) -> str:
    return inserted(text, line, rows(text)[line - 1])


def swapped(text: str, line: int, other: int) -> str:
    lines = rows(text)
    lines[line - 1], lines[other - 1] = lines[other - 1], lines[line - 1]
    return joined(lines)


def everywhere(text: str, pattern: str, new: str, *, cut: str = "") -> str:
    """Return the text with every match replaced, of one cut or of the whole text."""
    low, high = span(text, cut) if cut else (1, len(rows(text)))
    lines = rows(text)
    changed = [re.sub(pattern, new, row) for row in lines[low - 1 : high]]
    assert changed != lines[low - 1 : high], f"{pattern!r} changes nothing"
    return joined(lines[: low - 1] + changed + lines[high:])


def without_cut(text: str, cut: str) -> str:
    return dropped(text, *span(text, cut))


def with_cut_of(text: str, other: str, cut: str) -> str:
    """Return the text with one cut as another text has it."""
    (low, high), (first, last) = span(text, cut), span(other, cut)
    lines = rows(text)
    return joined([*lines[: low - 1], *rows(other)[first - 1 : last], *lines[high:]])


# --- words ---------------------------------------------------------------------------------------
def value(row: str, letter: str) -> float | None:
    """Return the number behind a letter of one line, None where there is none."""
    found = re.search(rf"{letter}(-?[0-9.]+)", row.split("(")[0])
    return float(found[1]) if found else None


def with_value(row: str, letter: str, number: float) -> str:
    return re.sub(rf"{letter}-?[0-9.]+", f"{letter}{number:.4f}", row)


def mapped(
    text: str,
    letter: str,
    change: Callable[[float], float],
    *,
    cut: str = "",
    gate: str = "^G[0123] ",
) -> str:
    """Return the text with every number behind a letter changed, in motion lines."""
    low, high = span(text, cut) if cut else (1, len(rows(text)))
    lines = rows(text)
    for k in range(low - 1, high):
        seen = value(lines[k], letter)
        if seen is not None and re.match(gate, lines[k]):
            lines[k] = with_value(lines[k], letter, change(seen))
    return joined(lines)


def moved(text: str, letter: str, by: float, *, cut: str = "") -> str:
    """Return the text with one axis shifted; Z only where it is in or just above the metal."""
    return mapped(
        text, letter, lambda v: v + by, cut=cut, gate="^G[123] " if letter == "Z" else "^G"
    )


def nudged(text: str, line: int, letter: str, by: float) -> str:
    """Return the text with one number of one line changed."""
    row = rows(text)[line - 1]
    seen = value(row, letter)
    assert seen is not None, f"no {letter} in {row!r}"
    return replaced(text, line, with_value(row, letter, seen + by))


def arcs_turned(text: str) -> str:
    """Return the text with G2 for G3 and G3 for G2."""
    return re.sub(r"^G([23]) ", lambda m: f"G{5 - int(m[1])} ", text, flags=re.MULTILINE)


# --- whole passes --------------------------------------------------------------------------------
@dataclass(frozen=True)
class Step:
    """One motion of a text, every axis said."""

    code: str
    start: tuple[float, float, float]
    stop: tuple[float, float, float]
    arm: tuple[float, float]
    feed: float


def steps(text: str, first: int, last: int) -> Iterator[Step]:
    """Yield the motions of a stretch of a text, from where the lines before it have led."""
    at, feed = [0.0, 0.0, 0.0], 0.0
    for number, row in enumerate(rows(text)[:last], 1):
        if not re.match(r"G[0123] ", row):
            continue
        start = list(at)
        for axis, letter in enumerate("XYZ"):
            seen = value(row, letter)
            at[axis] = at[axis] if seen is None else seen
        feed = value(row, "F") or feed
        if number >= first:
            arm = (value(row, "I") or 0.0, value(row, "J") or 0.0)
            yield Step(row[:2], tuple(start), tuple(at), arm, feed)  # type: ignore[arg-type]


def written(step: Step) -> str:
    x, y, z = step.stop
    arm = f" I{step.arm[0]:.4f} J{step.arm[1]:.4f}" if step.code in ("G2", "G3") else ""
    return f"{step.code} X{x:.4f} Y{y:.4f} Z{z:.4f}{arm} F{step.feed:.1f}"


def back(step: Step) -> Step:
    """Return a motion the other way round."""
    code = {"G2": "G3", "G3": "G2"}.get(step.code, step.code)
    arm = tuple(step.start[k] + step.arm[k] - step.stop[k] for k in (0, 1))
    return Step(code, step.stop, step.start, arm, step.feed)  # type: ignore[arg-type]


def travelled_back(text: str, cut: str) -> tuple[str, int]:
    """Return the text with a cut's feed motions in the plane reversed, and the first of them.

    The way down stands before them and the retract behind, each at the other end.
    """
    low, _ = span(text, cut)
    fed = [
        k for k in matching(text, r"^G[123] ", cut=cut) if not re.match("G1 Z", rows(text)[k - 1])
    ]
    first, last = fed[0], fed[-1]
    way = [back(s) for s in reversed(list(steps(text, first, last)))]
    x, y, z = way[0].start
    lines = rows(text)[low - 1 : first - 1]
    above = [re.sub(r"X\S+ Y\S+", f"X{x:.4f} Y{y:.4f}", row) for row in lines]
    above = [with_value(r, "Z", z) if r.startswith("G1 Z") else r for r in above]
    whole = rows(text)
    changed = whole[: low - 1] + above + [written(s) for s in way] + whole[last:]
    return joined(changed), first


def pass_travelled_back(text: str, cut: str, number: int) -> str:
    """Return the text with one level pass of a cut reversed, its way down put at its other end."""
    fed = [
        k for k in matching(text, r"^G[123] ", cut=cut) if not re.match("G1 Z", rows(text)[k - 1])
    ]
    begins = [k for k, before in zip(fed, [0, *fed], strict=False) if k != before + 1]
    first = begins[number]
    last = max(k for k in fed if k - first == sum(first < other <= k for other in fed))
    way = [back(s) for s in reversed(list(steps(text, first, last)))]
    x, y, _ = way[0].start
    whole = rows(text)
    down = max(k for k in range(first) if re.match("G0 X", whole[k]))
    whole[down] = re.sub(r"X\S+ Y\S+", f"X{x:.4f} Y{y:.4f}", whole[down])
    return joined(whole[: first - 1] + [written(s) for s in way] + whole[last:])


def without_lifts(
    text: str, lift: float, *, cut: str, near: tuple[float, float] | None = None
) -> str:
    """Return the text with the cutter kept down over the tabs, over the one ``near`` or over all.

    ``lift`` is the height of the windows.
    """
    lines = rows(text)
    low, high = span(text, cut)
    numbers = [k for k in range(low, high + 1) if re.match(r"G[0123] ", lines[k - 1])]
    way = list(steps(text, low, high))
    down = min(step.stop[2] for step in way)
    for number, step in zip(numbers, way, strict=True):
        seen = value(lines[number - 1], "Z")
        if seen is None:
            continue
        if abs(seen - lift) > 1e-9:
            down = seen if step.code != "G0" and seen < lift else down
            continue
        away = (step.stop[0] - near[0], step.stop[1] - near[1]) if near else (0.0, 0.0)
        if max(abs(away[0]), abs(away[1])) < 9.0:
            lines[number - 1] = with_value(lines[number - 1], "Z", down)
    return joined(lines)
