"""How fast plain lines are read, as a ratio to a plain loop over the same text in the same run.

    python -m pytest tests/benchmarks/test_reader_speed.py --benchmark-enable -s

The loop uses one compiled regular expression for the whole text and keeps places, code and feed:
the least a reader can do. Times are of the processor, the least of several runs each.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from knifecam.rs274.fast_lines import PlainText
from knifecam.rs274.modal_state import ALL_KNOWN, State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.program_reader import read_program

ROOT = Path(__file__).parents[2]
LINES = 200_000
WORD = re.compile(r"([A-Z])([+-]?[0-9]*\.?[0-9]+)|(\n)")


@pytest.fixture(scope="module")
def text() -> str:
    chance = random.Random(7)
    rows = ["G21 G17 G90 G94 G54 G49 G61", "G0 X0 Y0 Z5 F100"]
    for _ in range(LINES):
        x, y, z = chance.uniform(-50, 250), chance.uniform(-20, 60), chance.uniform(-5, 5)
        rows.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f}")
    return "\n".join([*rows, "M2", ""])


def loop(text: str) -> list[tuple[float, ...]]:
    """Return the motions of the text: code, place and feed."""
    x = y = z = feed = code = 0.0
    motions, moved = [], False
    for letter, digits, end in WORD.findall(text):
        if end:
            if moved:
                motions.append((code, x, y, z, feed))
            moved = False
        elif letter == "X":
            x, moved = float(digits), True
        elif letter == "Y":
            y, moved = float(digits), True
        elif letter == "Z":
            z, moved = float(digits), True
        elif letter == "G":
            code = float(digits)
        elif letter == "F":
            feed = float(digits)
    return motions


def least(work, runs: int) -> float:
    """Return the least of the processor's times of several runs, s."""
    times = []
    for _ in range(runs):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


def columns(text: str) -> Record:
    """Return the motions of the plain lines as columns."""
    state = State(known=ALL_KNOWN, motion=10, feed=100.0)
    record = Record()
    PlainText(text.encode(), len(text)).read(text.index("\nG1") + 1, 3, state, record)
    return record


@pytest.mark.skipif("--benchmark-enable" not in sys.argv, reason="speed is measured when asked for")
def test_plain_lines_against_a_loop(text, capsys):
    """Aim: 15 times the loop."""
    trace = read_program(text)
    assert trace.motions.stop[-1].tolist() == list(loop(text)[-1][1:4])
    assert len(columns(text)) == LINES
    slow = least(lambda: loop(text), 4)
    quick, whole = least(lambda: columns(text), 9), least(lambda: read_program(text), 9)
    with capsys.disabled():
        print(
            f"\nloop {LINES / slow / 1e6:.3f} million lines a second; text to columns "
            f"{LINES / quick / 1e6:.2f} ({slow / quick:.1f} times); text to trace "
            f"{LINES / whole / 1e6:.2f} ({slow / whole:.1f} times)"
        )
    assert slow / quick >= 15


def test_read_program(benchmark, text):
    """The whole text to a trace."""
    trace = benchmark(read_program, text)
    assert len(trace.motions) == LINES + 1


@pytest.mark.parametrize(
    "comment", ["\n(step)", " (step)", "\n(Gerät)"], ids=["between", "behind", "beyond ASCII"]
)
def test_read_program_with_comments(benchmark, text, comment):
    """A comment on every second line, or behind it; each makes an act."""
    lines = text.split("\n")
    shown = "\n".join(row + comment * (k % 4 == 3) for k, row in enumerate(lines))
    trace = benchmark(read_program, shown)
    assert len(trace.motions) == LINES + 1
    assert len(trace.acts) > LINES // 4


@pytest.mark.skipif("--benchmark-enable" not in sys.argv, reason="speed is measured when asked for")
def test_first_ever(tmp_path, capsys):
    """A new process with an empty cache of compiled code, and again with a full one."""
    code = (
        "import time; from knifecam.rs274.program_reader import read_program; t = time.process_time();"
        "read_program('G0 X1 Y1 Z1\\nG0 X2\\nM2'); print(time.process_time() - t)"
    )
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}
    times = [
        float(subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=environment,
                             capture_output=True, text=True).stdout)
        for _ in range(2)
    ]  # fmt: skip
    with capsys.disabled():
        print(f"\nfirst ever {times[0]:.2f} s, again in a new process {times[1]:.2f} s")
