"""Orders by the hundred: proved, refused beforehand, or FOUND, which none may be.

    python -m tests.agreement --kind good --orders 0:200 --log good.jsonl

plans each order of a kind (``good``, ``bevel``, ``detailed``, ``corner``, or one of the first three
with ``wider-`` before it), has the programs judged,
and prints a line an order and a count. A finding on the planner's own programs is FOUND: either they
would spoil the blade or the judge raises a false alarm. The log has a line an order; what stands in it is
not made again. The status is 1 where any order is FOUND, or ends in an error without lines.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from knifecam.errors import KnifecamError
from knifecam.making import Made, make
from knifecam.shop import Order
from tests.agreement.bevel_orders import random_bevel_order
from tests.agreement.corner_orders import corner_order
from tests.agreement.detailed_orders import detailed_order
from tests.agreement.good_orders import good_order
from tests.agreement.wider_orders import WIDER

KINDS: Mapping[str, Callable[[int], Order]] = {
    "good": good_order,
    "bevel": random_bevel_order,
    "detailed": detailed_order,
    "corner": corner_order,
    **{f"wider-{kind}": maker for kind, maker in WIDER.items()},
}

PROVED, REFUSED, FOUND, CRASHED = "proved", "refused beforehand", "FOUND", "CRASHED"
BAD = (FOUND, CRASHED)

WALL, LAND, SYMMETRY, GOUGE = 5e-3, 5e-3, 2e-3, 1e-3
"""mm: what the design allows of the arithmetic alone; more is told as FOUND too."""

Row = dict[str, Any]


def off_measure(made: Made) -> Iterator[str]:
    """Yield the measures that are worse than the arithmetic should leave them."""
    measures = made.verdict.measures
    for side in "AB":
        wall = measures["outline"][side]
        if not max(wall["gouge"], wall["left"]) <= WALL:
            yield f"outline {side}: gouge={wall['gouge']} mm left={wall['left']} mm"
    for bevel in measures["bevels"]:
        gouges = [side["most_gouged"]["amount"] for side in bevel["sides"].values()]
        if not (
            bevel["land"]["most_off"] <= LAND
            and abs(bevel["symmetry"] or 0.0) <= SYMMETRY
            and max(gouges, default=0.0) <= GOUGE
        ):
            land, symmetry = bevel["land"]["most_off"], bevel["symmetry"]
            yield f"bevel {bevel['name']}: land off {land}, symmetry {symmetry}, gouges {gouges}"


def became(order: Order, cell: float) -> tuple[str, tuple[str, ...]]:
    """Return what became of an order, and why."""
    try:
        made = make(order, cell=cell)
    except KnifecamError as refused:
        return REFUSED, refused.lines
    except Exception as fault:
        return CRASHED, (repr(fault),)
    told = [f"{f.kind} {f.side}{f.line}: {f.message}" for f in made.verdict.findings]
    told += off_measure(made)
    return (FOUND if told else PROVED), tuple(told)


def row_of(kind: str, index: int, cell: float) -> Row:
    """Return one order's line in the log."""
    begun = time.process_time()
    try:
        what, why = became(KINDS[kind](index), cell)
    except KnifecamError as refused:
        what, why = REFUSED, refused.lines
    except Exception as fault:
        what, why = CRASHED, (f"no order: {fault!r}",)
    spent = round(time.process_time() - begun, 2)
    return {"kind": kind, "order": index, "cell": cell, "became": what, "why": why, "s": spent}


def read_log(path: Path) -> list[Row]:
    """Return the lines of a log; a line that was torn is left out, and ended."""
    rows = []
    text = path.read_text() if path.exists() else ""
    if text and not text.endswith("\n"):
        with path.open("a") as out:
            out.write("\n")
    for line in text.splitlines():
        try:
            rows.append(json.loads(line))
        except json.JSONDecodeError:
            continue
    return rows


def run(kind: str, orders: range, cell: float, log: Path) -> list[Row]:
    """Make the orders that the log lacks; return the rows of all that were asked for."""
    rows = {
        row["order"]: row for row in read_log(log) if (row["kind"], row["cell"]) == (kind, cell)
    }
    for index in orders:
        if index not in rows:
            rows[index] = row_of(kind, index, cell)
            with log.open("a") as out:
                out.write(json.dumps(rows[index]) + "\n")
        row = rows[index]
        print(kind, index, row["became"], row["s"], "; ".join(row["why"])[:300], flush=True)
    return [rows[index] for index in orders]


def report(rows: Sequence[Row]) -> int:
    """Print the count; return the status."""
    counts = Counter(row["became"] for row in rows)
    told = ", ".join(f"{counts[what]} {what}" for what in (PROVED, REFUSED, *BAD))
    spent = sum(row["s"] for row in rows)
    print(f"{len(rows)} orders: {told}; {2 * counts[PROVED]} programs proved; {spent:.0f} s")
    return 1 if any(counts[what] for what in BAD) else 0


def span_of(text: str) -> range:
    """Return the orders from the first up to the last but one of "0:200"."""
    low, _, high = text.partition(":")
    return range(int(low), int(high))


def main(words: list[str]) -> int:
    """Make the orders and print what became of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.agreement", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--kind", choices=KINDS, default="good")
    parser.add_argument("--orders", type=span_of, default=range(200), metavar="LOW:HIGH")
    parser.add_argument("--cell", type=float, default=0.1, help="mm, of the grid")
    parser.add_argument("--log", type=Path, default=Path("agreement.jsonl"))
    asked = parser.parse_args(words)
    return report(run(asked.kind, asked.orders, asked.cell, asked.log))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
