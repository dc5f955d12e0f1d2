"""Work shared out among threads: which gets what changes nothing."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

MOST_THREADS = 8
"""Threads at most."""

WORTH = 4000
"""Less work than this is not worth a thread's beginning."""

SHARES_PER_THREAD = 8
"""Shares for each thread, so that none waits long for the last."""

GROUP = Path("/sys/fs/cgroup")
"""Where Linux tells what the control group may use."""

UNKNOWN = 2_000_000_000
"""Bytes taken to be there, where the system does not tell."""


def usable_threads() -> int:
    """Return how many threads can run at once."""
    if hasattr(os, "sched_getaffinity"):
        return min(len(os.sched_getaffinity(0)), MOST_THREADS)
    return min(os.cpu_count() or 1, MOST_THREADS)


def usable_memory() -> int:
    """Return how many bytes can be taken before the system has to fetch them from elsewhere.

    The least of what the machine has available and what its control group has left; `UNKNOWN` where
    neither is told.
    """
    found = []
    with suppress(OSError, ValueError, IndexError):
        rows = Path("/proc/meminfo").read_text("ascii").splitlines()
        found += [1024 * int(row.split()[1]) for row in rows if row.startswith("MemAvailable:")]
    with suppress(OSError, ValueError):
        most, used = (
            int((GROUP / f"memory.{what}").read_text("ascii")) for what in ("max", "current")
        )
        found.append(most - used)
    return max(0, min(found, default=UNKNOWN))


def thread_shares(begins: NDArray[np.int64], threads: int) -> list[tuple[int, int]]:
    """Return from which item to which each share goes, about the same work in all of them.

    Parameters
    ----------
    begins : (n + 1,) int64
        The work of item k is ``begins[k + 1] - begins[k]``.
    threads : int
    """
    count = len(begins) - 1
    if threads <= 1 or begins[-1] < WORTH:
        return [(0, count)]
    wanted = np.linspace(0, begins[-1], SHARES_PER_THREAD * threads + 1)[1:-1]
    edges = np.unique([0, *np.searchsorted(begins, wanted), count]).tolist()
    return list(pairwise(edges))


def run_in_threads(
    do: Callable[[int, int], None], parts: list[tuple[int, int]], threads: int
) -> None:
    """Do every part, by as many threads."""
    if len(parts) == 1:
        do(*parts[0])
        return
    with ThreadPoolExecutor(threads) as pool:
        for done in [pool.submit(do, *part) for part in parts]:
            done.result()
