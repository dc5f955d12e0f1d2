"""The house: how many modules, how deep, no name twice, and a map that knows them all."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "knifecam").rglob("*.py"))

OF_MINUTES = {"cutter_bending", "cutter_loads", "cutting_data", "cutting_force"}
"""Modules that came on top of two hundred, with loads and cutting data."""


def test_there_are_at_most_two_hundred_modules_besides_those_of_minutes():
    assert len([path for path in MODULES if path.stem not in OF_MINUTES]) <= 200


def test_rooms_hold_modules_and_no_rooms():
    assert {len(path.relative_to(ROOT).parts) for path in MODULES} <= {2, 3}


def test_no_two_modules_share_a_file_name():
    stems = Counter(path.stem for path in MODULES if path.stem != "__init__")
    assert [name for name, times in stems.items() if times > 1] == []


def test_the_map_has_each_module_by_its_own_first_line():
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for path in MODULES:
        if path.stem not in ("__init__", "__main__"):
            doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
            first = " ".join(doc.split("\n\n")[0].split())
            assert f"| {path.stem} | {first} |" in page, path
