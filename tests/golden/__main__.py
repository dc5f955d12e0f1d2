"""The golden set: what orders give, kept as digests, so that a change shows what it changes.

    python -m tests.golden make before.json               # before the change; --small: those of CI
    python -m tests.golden make after.json --folder after # texts, verdicts and screens in full too
    python -m tests.golden compare before.json after.json
    python -m tests.golden keep                           # the small set again, for CI

Digests are kept apart for motions (places, kinds, feeds, modes, stops), the programs' texts, every
key of the verdict, and the screen; the lines of refusals are kept whole. ``compare`` has status 1
where anything differs.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from multiprocessing import get_context
from pathlib import Path

from tests.golden.digests import Digests, differences, digests_of
from tests.golden.specimens import small_set, whole_set

KEPT = Path(__file__).with_name("kept.json")


def make_set(names: Iterable[str], folder: Path | None, workers: int) -> dict[str, Digests]:
    """Return the digests of the named specimens, in that order."""
    names = list(names)
    with get_context("spawn").Pool(workers) as pool:
        jobs = [pool.apply_async(digests_of, (name,), {"folder": folder}) for name in names]
        made = {}
        for name, job in zip(names, jobs, strict=True):
            made[name] = job.get()
            print(name, "refused" if "refused" in made[name] else made[name]["motions"], flush=True)
    return made


def compare(before: dict[str, Digests], now: dict[str, Digests]) -> list[str]:
    """Return what differs, a line each."""
    told = []
    for name in dict.fromkeys((*before, *now)):
        told += [f"{name}: {line}" for line in differences(before.get(name), now.get(name))]
    return told


def _made(words: argparse.Namespace) -> int:
    names = small_set() if words.small else whole_set()
    made = make_set(names, words.folder, words.workers)
    words.file.write_text(json.dumps(made, indent=1) + "\n")
    return 0


def _compared(words: argparse.Namespace) -> int:
    before, now = (json.loads(path.read_text()) for path in (words.before, words.now))
    told = compare(before, now)
    print("\n".join(told) or f"nothing differs in {len(now)} orders")
    return 1 if told else 0


def main(words: list[str]) -> int:
    """Make or compare."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    commands = parser.add_subparsers(required=True)
    making = commands.add_parser("make")
    making.add_argument("file", type=Path)
    making.add_argument("--small", action="store_true")
    keeping = commands.add_parser("keep")
    keeping.set_defaults(file=KEPT, small=True)
    for one in (making, keeping):
        one.add_argument("--folder", type=Path)
        one.add_argument("--workers", type=int, default=2)
        one.set_defaults(run=_made)
    comparing = commands.add_parser("compare")
    comparing.add_argument("before", type=Path)
    comparing.add_argument("now", type=Path)
    comparing.set_defaults(run=_compared)
    asked = parser.parse_args(words)
    status: int = asked.run(asked)
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
