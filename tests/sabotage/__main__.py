"""Thousands of programs made wrong on purpose, classed by an oracle, and what the judge says to them.

    python -m tests.sabotage --mutants 5000 --log trials.jsonl

runs the four demos of `examples/`, as many changes of each, and prints what was caught, missed and
found in vain, by kind of change. The log has a line a change; what stands in it is not done again.
``--part 0/2`` does every second change, so that two processes may share the work; ``--only missed``
does those again that the log has as missed.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from dataclasses import asdict
from pathlib import Path

import knifecam
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Order
from tests.sabotage.changes.trial import CELL, Change, Trial, Trials, changes, outcome, report

EXAMPLES = Path(__file__).parents[2] / "examples"
DEMOS = ("field-knife-230x32", "hunter-104", "netting-knife-60", "petty-150")

STANDS = 2
"""How often each change of the stand is tried with each demo: they cost more than others."""


def programs(demo: str) -> tuple[Order, tuple[str, str]]:
    """Return a demo's order and the planner's programs for it."""
    order = knifecam.load_order(EXAMPLES / f"{demo}.toml")
    plan = lay_out(order)
    return order, (write_program(order, plan, "A").text, write_program(order, plan, "B").text)


def key_of(demo: str, change: Change) -> str:
    """Return what names a trial in the log."""
    return f"{demo}|{change.kind}|{change.side}|{change.place}|{change.seed}"


def line_of(demo: str, trial: Trial, spent: float) -> dict[str, object]:
    """Return a trial's line in the log."""
    return {
        "key": key_of(demo, trial.change),
        "demo": demo,
        **asdict(trial.change),
        "grade": trial.grade,
        "told": trial.told,
        "effects": [(e.grade, e.what, round(e.amount, 5)) for e in trial.effects[:4]],
        "found": asdict(trial.found),
        "argued": trial.argued,
        "spent": round(spent, 3),
    }


def read_log(paths: list[Path]) -> dict[str, dict[str, object]]:
    """Return the last line of every trial in logs; a torn last line is left out."""
    rows: dict[str, dict[str, object]] = {}
    for path in paths:
        for line in path.read_text().splitlines() if path.exists() else ():
            try:
                row = json.loads(line)
            except json.JSONDecodeError:
                continue
            row["told"] = outcome(row["grade"], row["found"]["kind"], row["argued"])
            rows[str(row["key"])] = row
    return rows


def run(demo: str, wanted: list[Change], log: Path, order: Order, texts: tuple[str, str]) -> None:
    """Try changes of one demo and write a line each."""
    trials = Trials(order, texts, cell=CELL)
    with log.open("a") as out:
        for change in wanted:
            begun = time.process_time()
            trial = trials.of(change)
            out.write(json.dumps(line_of(demo, trial, time.process_time() - begun)) + "\n")
            out.flush()


def main(words: list[str]) -> int:
    """Run, and print the table; the status is 1 where something harmful was missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.sabotage", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--mutants", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--log", type=Path, default=Path("sabotage.jsonl"))
    parser.add_argument("--part", default="0/1")
    parser.add_argument("--demos", nargs="*", default=list(DEMOS), choices=DEMOS)
    parser.add_argument(
        "--only", default="", help="try again what the log tells of so, e.g. missed"
    )
    parser.add_argument("--more-logs", type=Path, nargs="*", default=[], help="read these too")
    asked = parser.parse_args(words)
    part, parts = (int(n) for n in asked.part.split("/"))
    before = read_log([asked.log, *asked.more_logs])
    for demo in asked.demos:
        order, texts = programs(demo)
        some = changes(texts, asked.mutants // len(asked.demos), asked.seed, stands=STANDS)[
            part::parts
        ]
        if asked.only:
            again = {k for k, row in before.items() if row["told"] == asked.only}
            some = [c for c in some if key_of(demo, c) in again]
        else:
            some = [c for c in some if key_of(demo, c) not in before]
        if some:
            run(demo, some, asked.log, order, texts)
    return told(read_log([asked.log, *asked.more_logs]))


def told(rows: dict[str, dict[str, object]]) -> int:
    """Print the table and every miss; return the status."""
    table: dict[str, Counter[str]] = {}
    for row in rows.values():
        table.setdefault(str(row["kind"]), Counter())[str(row["told"])] += 1
    print("\n".join(report(table)))
    spent = sum(float(str(row["spent"])) for row in rows.values())
    print(f"processor time {spent:.0f} s, cores {os.cpu_count()}")
    missed = [row for row in rows.values() if row["told"] == "missed"]
    for row in missed:
        print("missed:", row["key"], row["effects"])
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
