"""Hostile drawings and programs by the hundred thousand, each from its seed.

    python -m tests.hostile drawings --seeds 0:100000 --log drawings.jsonl
    python -m tests.hostile programs --seeds 0:1000000 --log programs.jsonl

reads every file and tells what became of them, why they are refused, the slowest, the greatest
memory, and every fault: an error without lines, or more than `SLOWEST` s. The log has a line for
a slice of seeds; what stands in it is not run again, so that a run may be stopped and several may
share the work. The status is 1 where there is a fault.
"""

from __future__ import annotations

import argparse
import json
import logging
import re
import resource
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.agreement.__main__ import read_log, span_of
from tests.laws import test_hostile_drawings as drawings
from tests.laws.hostile_drawings import drawing
from tests.unit.rs274 import test_hostile_programs as programs

BECAME: Mapping[str, Callable[[int], str]] = {
    "drawings": lambda seed: drawings.judged(drawing(seed)),
    "programs": programs.judged_by_seed,
}
"""What becomes of the file of a seed."""

SLOWEST = 10.0
"""s of one core for one file; it is stopped then."""

SLICE = 1000

Row = dict[str, Any]


class SlowError(Exception):
    """A file took more than `SLOWEST`."""


def stopped(*_: object) -> None:
    """Stop the file that is being read."""
    raise SlowError(f"more than {SLOWEST} s")


def kind_of(told: str) -> str:
    """Return the beginning of a message with its numbers and names left out."""
    return re.sub(r"'.*?'|\".*?\"|[-+]?[0-9][\w.+-]*", "#", told)[:70]


def row_of(kind: str, seeds: range) -> Row:
    """Return the line of a slice in the log."""
    words: Counter[str] = Counter()
    faults, slowest, begun = [], (0.0, seeds.start), time.process_time()
    for seed in seeds:
        before = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, SLOWEST)
        try:
            words[kind_of(BECAME[kind](seed))] += 1
        except Exception as fault:
            faults.append((seed, repr(fault)[:400]))
            words[f"FAULT {type(fault).__name__}"] += 1
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        slowest = max(slowest, (round(time.process_time() - before, 3), seed))
    return {
        "kind": kind, "seeds": [seeds.start, seeds.stop], "became": dict(words), "faults": faults,
        "slowest": slowest, "s": round(time.process_time() - begun, 2),
        "MB": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
    }  # fmt: skip


def run(kind: str, seeds: range, log: Path) -> list[Row]:
    """Run the slices that the log lacks, and return the rows of all that were asked for."""
    found = {tuple(row["seeds"]): row for row in read_log(log) if row["kind"] == kind}
    rows = []
    for first in range(seeds.start, seeds.stop, SLICE):
        part = range(first, min(first + SLICE, seeds.stop))
        row = found.get((part.start, part.stop))
        if row is None:
            row = row_of(kind, part)
            with log.open("a") as out:
                out.write(json.dumps(row) + "\n")
        rows.append(row)
    return rows


def report(rows: Sequence[Row]) -> int:
    """Print what became of all files; return the status."""
    words: Counter[str] = Counter()
    for row in rows:
        words.update(row["became"])
    faults = [fault for row in rows for fault in row["faults"]]
    for word, count in words.most_common(40):
        print(f"{count:8d}  {word}")
    slowest, seed = max(row["slowest"] for row in rows)
    print(
        f"{sum(words.values())} files in {sum(row['s'] for row in rows):.0f} s;"
        f" slowest {slowest} s (seed {seed}); at most {max(row['MB'] for row in rows)} MB;"
        f" {len(words)} kinds of answer; {len(faults)} faults"
    )
    for seed, fault in faults:
        print("FAULT seed", seed, fault)
    return 1 if faults else 0


def main(words: list[str]) -> int:
    """Run the seeds, and print what became of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("kind", choices=BECAME)
    parser.add_argument("--seeds", type=span_of, default=range(10_000), metavar="LOW:HIGH")
    parser.add_argument("--log", type=Path, default=Path("hostile.jsonl"))
    asked = parser.parse_args(words)
    signal.signal(signal.SIGPROF, stopped)
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    return report(run(asked.kind, asked.seeds, asked.log))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
