"""Compiling the judge's kernels in other processes while the first one still plans.

Compiled code stays on the disk. Where it is not there yet, as in the first run on a machine,
children of this process compile it: `compiling` starts them, one fewer than there are cores, and
hands each one rehearsal after the other; just before the judge is called, this process joins
in from the other end, waits for them, and then finds everything on the disk. A child that cannot be
started, dies or stores nothing does no harm: what is not on the disk is compiled when it is called.

Only the command line does this: a program that imports knifecam should not find processes that it
did not start. It may do the same by `compiling` and ``before_judging`` of `knifecam.make`.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import Any

from knifecam.simulator.shares import threads_at_hand

LONGEST = 300.0
"""s: so long a child is waited for at most."""

MOST = 3
"""Children at most: there is no more for them to do."""


@contextmanager
def compiling() -> Iterator[Callable[[], None]]:
    """Yield what is to be called before the first judging: it returns once kernels are on the disk.

    Children compile meanwhile, where code is missing, more than one core is at hand and numba may
    compile at all. None of them outlives the ``with`` block, nor this process however it ends.
    """
    with ExitStack() as children:
        left: deque[str] = deque()
        served: list[Thread] = []
        if threads_at_hand() > 1 and not all(stored(kernel) for kernel in kernels()):
            from knifecam.simulator.rehearsal import REHEARSALS

            children.enter_context(uncollected())
            left.extend(REHEARSALS)
            for _ in range(min(threads_at_hand() - 1, MOST)):
                with suppress(OSError):
                    child = children.enter_context(_child())
                    served.append(Thread(target=_serve, args=(child, left), daemon=True))
                    served[-1].start()
        yield lambda: _finish(left, served)


def kernels() -> tuple[Any, ...]:
    """Return what the judge calls of compiled code; plain functions, where numba may not compile."""
    from knifecam.simulator import duration, kernel, loose, walls
    from knifecam.simulator.rs274 import plain

    return (
        kernel.sweep_blocks, kernel.sweep_sights, plain.read_plain, loose.stretches, loose.freed,
        walls.wall_errors, duration.trapezoids,
    )  # fmt: skip


def stored(kernel: Any) -> bool:
    """Return whether a kernel's code seems to be on the disk, or can never be.

    It seems so, where an index of it is younger than its source and than the compiler.
    """
    import numba

    folder = kernel.stats.cache_path if hasattr(kernel, "stats") else None
    if folder is None:
        return True
    source = Path(kernel.py_func.__code__.co_filename)
    with suppress(OSError):
        oldest = max(path.stat().st_mtime for path in (source, Path(numba.__file__)))
        name = f"{source.stem}.{kernel.py_func.__qualname__}-*.nbi"
        return any(index.stat().st_mtime >= oldest for index in Path(folder).glob(name))
    return True


@contextmanager
def _child() -> Iterator[subprocess.Popen[str]]:
    """Start a child, with the same places to import from, that ends when its input does."""
    places = os.pathsep.join(os.path.abspath(place) for place in sys.path)
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", __name__],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        env=os.environ | {"PYTHONPATH": places}, text=True,
    )  # fmt: skip
    try:
        yield child
    finally:
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            with suppress(OSError):
                pipe.close()  # type: ignore[union-attr]


def _serve(child: subprocess.Popen[str], left: deque[str]) -> None:
    """Name a child one rehearsal each time it asks, until it has died or none is left; then it ends."""
    with suppress(OSError, ValueError, IndexError):
        for _ in child.stdout:  # type: ignore[union-attr]
            child.stdin.write(left.popleft() + "\n")  # type: ignore[union-attr]
            child.stdin.flush()  # type: ignore[union-attr]
    with suppress(OSError):
        child.stdin.close()  # type: ignore[union-attr]


def _finish(left: deque[str], served: list[Thread]) -> None:
    """Do from the other end what is left, then wait for the children."""
    if not served:
        return
    with suppress(IndexError):
        while True:
            rehearse(left.pop())
    for thread in served:
        thread.join(LONGEST)


@contextmanager
def uncollected() -> Iterator[None]:
    """Collect no garbage meanwhile: of what stays, looking for it takes a seventh of a compiler's time,
    and a quarter of that of a large drawing."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def rehearse(name: str) -> None:
    """Compile or load what one rehearsal calls."""
    from knifecam.simulator.rehearsal import REHEARSALS

    REHEARSALS[name]()


def _listen(named: SimpleQueue[str]) -> None:
    """Take names from the input; once that ends, so does this process, whatever it is at."""
    for line in sys.stdin:
        named.put(line.strip())
    os._exit(0)


def main() -> None:
    """Ask for a rehearsal, do it, and ask again."""
    named: SimpleQueue[str] = SimpleQueue()
    Thread(target=_listen, args=(named,), daemon=True).start()
    with uncollected():
        while True:
            print("free", flush=True)
            rehearse(named.get())


if __name__ == "__main__":
    main()
