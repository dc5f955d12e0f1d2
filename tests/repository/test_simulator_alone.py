"""The judge must not need, or load, anything that made the programs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

CODE = """
import sys
import knifecam.judge.prove
names = ("paths", "planning", "program", "make", "order", "drawing", "cli", "run", "traveler")
loaded = [m for m in sys.modules if m.split(".")[:1] == ["knifecam"] and
          m.split(".")[1:2] and m.split(".")[1] in names]
heavy = [m for m in ("pydantic", "pint", "ezdxf", "matplotlib", "shapely") if m in sys.modules]
print(loaded + heavy)
"""


def test_the_judge_loads_no_planner() -> None:
    done = subprocess.run(
        [sys.executable, "-c", CODE], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
