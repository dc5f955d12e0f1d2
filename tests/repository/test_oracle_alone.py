"""What the oracle of the sabotage harness may know: nothing of the judge but its reader."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ORACLE = Path(__file__).parents[1] / "sabotage/oracle"
KNOWN = (
    "knifecam.errors",
    "knifecam.record",
    "knifecam.curve",
    "knifecam.blade",
    "knifecam.shop",
    "knifecam.cutting",
)
READER = (
    "knifecam.rs274.program_reader", "knifecam.rs274.trace", "knifecam.sweep.side_program.stored_of",
)  # fmt: skip
CHANGES = (
    "tests.sabotage.oracle",
    "tests.sabotage.changes.change_stand",
    "tests.sabotage.changes.text",
)


def imported(path: Path) -> set[str]:
    """Return all that a module imports of ours, inside functions too, names counted."""
    tree = ast.parse(path.read_text())
    found = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    for n in ast.walk(tree):
        if isinstance(n, ast.ImportFrom):
            found |= {f"{n.module}.{a.name}" for a in n.names}
    return {name for name in found if name.split(".")[0] in ("knifecam", "tests")}


@pytest.mark.parametrize("path", sorted(ORACLE.glob("*.py")), ids=lambda path: path.stem)
def test_the_oracle_knows_of_the_judge_only_the_reader(path):
    allowed = (*KNOWN, *READER, *CHANGES)
    assert {name for name in imported(path) if not name.startswith(allowed)} == set()
