"""Where the minutes go: cut by cut, at stops and changes, and at the bench besides."""

from __future__ import annotations

import re
from bisect import bisect
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from knifecam.judge.hand_stops import length_checks
from knifecam.judge.stop_messages import said_at_stops
from knifecam.rs274.program_reader import lines_of
from knifecam.rs274.restart_points import cut_starts
from knifecam.shop import Mill, Order
from knifecam.sweep.run_time import OPTIONAL_STOP_NUMBER, Duration, real_changes
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import STOP_S

Row = dict[str, Any]

BENCH_MIN = {
    "warm_up": 10.0,
    "thickness": 5.0,
    "fill_and_cure": 30.0,
    "flip_and_clean": 10.0,
    "alignment": 5.0,
}
"""min, all common practice: the spindle at finishing speed before lengths are set, each side; the
plate's thickness in four places or more; wax or hot glue filled in and hard again; plate turned over,
plate and fixture clean; the alignment program with its gauge pin."""

_CUT_HEAD = re.compile(
    r"CUT\s+\d+\s+OF\s+\d+\s*:\s*(?P<name>.+?)(?:,\s*PART\s+\d+\s+OF\s+\d+)?"
    r",\s*CUTTER\s+\d+,\s*DOWN\s+TO\s+Z\S+",
    re.IGNORECASE,
)
_CUT_BEGUN = re.compile(r"CUT\s+\d+\s+OF\s+\d+\s*:\s*(?P<name>.*)", re.IGNORECASE)
_REMARK_LINE = re.compile(r"\s*(?:N\s*\d+\s*)?\((?P<text>[^)]*)\)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A cutter that goes in: its number, which item of that number, and the motion that follows.

    ``checks`` counts the stops that check its length, those aside that a switch leaves out.
    """

    cutter: int
    item: int
    before: int
    checks: int


def fittings(side: SideProgram, mill: Mill) -> list[Fitting]:
    """Return the cutters that go in, in turn; each fresh one is the next item of its number.

    Fresh is a cutter whose stop asks for a fresh one, and one that a hand puts in the place of its
    own number.
    """
    changes = real_changes(side.trace.acts)
    at = [act.line for act in changes]
    asked = {bisect(at, one.act.line) for one in said_at_stops(side) if one.values.get("fresh")}
    checks = length_checks(side, mill)
    stops = (
        act for act in side.trace.acts if act.kind == "stop" and act.number != OPTIONAL_STOP_NUMBER
    )
    proofs = Counter(bisect(at, stop.line) - 1 for stop in stops if stop.line in checks)
    items: Counter[int] = Counter()
    found, held = [], 0
    for k, act in enumerate(changes):
        number = round(act.number)
        items[number] += number == held or k in asked
        found.append(
            Fitting(cutter=number, item=items[number], before=act.before, checks=proofs[k])
        )
        held = number
    return found


def check_stops(fitted: Sequence[Fitting], *, holders_keep_length: bool) -> int:
    """Return how many stops it takes on a side to check the lengths of cutters that a hand puts in.

    In collets each fitting is checked, in holders that keep a cutter's length each item once. A
    check has as many stops as the longest in the program.
    """
    each = max((one.checks for one in fitted), default=0)
    items = {(one.cutter, one.item) for one in fitted}
    return each * (len(items) if holders_keep_length else len(fitted))


def cut_rows(side: SideProgram, spans: Duration, mill: Mill) -> Iterator[Row]:
    """Yield a row for each cut of a side by each cutter; the parts of a cut share one.

    The rows' volumes add up to all that the side takes, their minutes to all its motions'. A cut
    lasts from its head to the next.
    """
    starts = np.array(cut_starts(side.text), int)
    lines, cutter = lines_of(side.text), np.asarray(side.trace.cutter)
    before = "BEFORE THE FIRST CUT" if len(starts) else "THE WHOLE PROGRAM"
    names = [before, *(_cut_name(lines, line) for line in starts.tolist())]
    cut = np.searchsorted(starts, side.trace.line, side="right")
    fitted = fittings(side, mill)
    fitting = np.searchsorted([one.before for one in fitted], np.arange(len(side)), side="right")
    edges = np.flatnonzero(np.diff(cut) | np.diff(cutter) | np.diff(fitting)) + 1
    runs: dict[tuple[str, int], list[tuple[int, int]]] = {}
    for low, high in zip([0, *edges.tolist()], [*edges.tolist(), len(side)], strict=True):
        if low < high:
            runs.setdefault((names[cut[low]], int(cutter[low])), []).append((low, high))
    for (name, number), ranges in runs.items():
        items = {fitted[k - 1].item if k else 0 for k in (fitting[low] for low, _ in ranges)}
        yield {
            "side": side.name,
            "name": name,
            "cutter": number,
            "items": len(items),
            "volume": sum(float(side.volume[low:high].sum()) for low, high in ranges),
            "minutes": sum(float(spans.moving[low:high].sum()) for low, high in ranges) / 60.0,
        }


def _cut_name(lines: Sequence[str], number: int) -> str:
    """Return what a cut's head calls it, without its part, cutter and depth.

    ``number`` is the line, 1-based, on which the head begins; it may go on in remarks right below.
    """
    words = ""
    for raw in lines[number - 1 :]:
        remark = _REMARK_LINE.fullmatch(raw)
        if remark is None:
            break
        words = " ".join([*words.split(), *remark["text"].split()])
        if whole := _CUT_HEAD.fullmatch(words):
            return str(whole["name"])
    first = lines[number - 1].partition("(")[2].partition(")")[0]
    begun = _CUT_BEGUN.fullmatch(" ".join(first.split()))
    return str(begun["name"]) if begun else first


def bench_minutes(order: Order, sides: Iterable[str]) -> dict[str, float]:
    """Return the minutes of work at the bench besides the mill's run, for the sides that are cut."""
    cut = set(sides)
    turned = "B" in cut
    times = {
        "warm_up": len(cut),
        "thickness": "A" in cut,
        "fill_and_cure": turned and order.setup.support == "filled",
        "flip_and_clean": turned,
        "alignment": turned,
    }
    return {name: often * BENCH_MIN[name] for name, often in times.items()}


def minute_figures(
    sides: Sequence[SideProgram], spans: Mapping[str, Duration], order: Order
) -> Row:
    """Return the rows of all cuts, and what the hands and the bench take, by a verdict's names.

    A row's share is of the minutes at the mill, so that shares and the waits' make one. In
    "collets" each fitting of a cutter is checked, in "holders" each item once a side; where the
    mill changes cutters itself, both are what the programs take.
    """
    by = order.setup.mill
    rows = [row for side in sides for row in cut_rows(side, spans[side.name], by)]
    waits = {
        name: sum(float(getattr(spans[side.name], name).sum()) for side in sides) / 60.0
        for name in ("stopping", "changing", "dwelling")
    }
    mill = sum(row["minutes"] for row in rows) + sum(waits.values())
    bench = bench_minutes(order, [side.name for side in sides])
    return {
        "cuts": [_told(row, mill) for row in rows],
        "minutes": {
            "cuts": round(sum(row["minutes"] for row in rows), 3),
            "stops": round(waits["stopping"], 3),
            "changes": round(waits["changing"], 3),
            "dwells": round(waits["dwelling"], 3),
            "mill": round(mill, 3),
            "hand_stops": round(waits["stopping"] * 60.0 / STOP_S),
            "cutter_changes": sum(len(real_changes(side.trace.acts)) for side in sides),
            "bench": bench,
            "collets": round(mill + _checks_more(sides, order, holders_keep_length=False), 3),
            "holders": round(mill + _checks_more(sides, order, holders_keep_length=True), 3),
        },
    }


def _told(row: Row, mill: float) -> Row:
    """Return a row with its rate, mm3/min, and its share of the minutes at the mill, rounded."""
    minutes, volume = row["minutes"], row["volume"]
    return row | {
        "volume": round(volume, 3),
        "minutes": round(minutes, 3),
        "rate": round(volume / minutes, 2) if minutes > 0.0 else None,
        "share": round(minutes / mill, 5) if mill > 0.0 else None,
    }


def _checks_more(sides: Iterable[SideProgram], order: Order, *, holders_keep_length: bool) -> float:
    """Return by how many minutes the checks of lengths would differ from the programs'."""
    if not order.setup.mill.change_by_hand:
        return 0.0
    stops = 0
    for side in sides:
        fitted = fittings(side, order.setup.mill)
        stops += check_stops(fitted, holders_keep_length=holders_keep_length)
        stops -= sum(one.checks for one in fitted)
    return stops * STOP_S / 60.0
