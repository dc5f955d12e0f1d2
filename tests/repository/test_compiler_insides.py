"""Who knows the compiler's insides: the vectors alone, and only with releases that were tried."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

from knifecam.sweep.vector8 import TRIED

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "knifecam").rglob("*.py"))
PUBLIC = ("numba", "numba.njit", "numba.types", "numba.extending.")


def insides(node: ast.AST) -> dict[str, str]:
    """Return what code imports of the compiler beside its public names: the name used, and whose."""
    found = {}
    for n in ast.walk(node):
        if isinstance(n, ast.Import):
            found |= {a.asname or a.name: a.name for a in n.names}
        elif isinstance(n, ast.ImportFrom):
            found |= {a.asname or a.name: f"{n.module}.{a.name}" for a in n.names}
    of_compiler = {k: v for k, v in found.items() if v.split(".")[0] in ("numba", "llvmlite")}
    return {k: v for k, v in of_compiler.items()
            if not (v in PUBLIC or v.startswith("numba.extending."))}  # fmt: skip


def unguarded(tree: ast.Module) -> list[ast.stmt]:
    """Return the statements of a module that do not hang on whether vectors are used."""
    bare: list[ast.stmt] = []
    for statement in tree.body:
        guarded = isinstance(statement, ast.If) and ast.unparse(statement.test) == "vectors_used"
        bare += statement.orelse if guarded else [statement]
    return bare


@pytest.mark.parametrize(
    "code", ["import llvmlite", "from numba.core import ir", "from numba import core"]
)
def test_insides_are_found(code):
    assert insides(ast.parse(code))


def test_only_vectors_know_the_compilers_insides():
    knowing = {
        path.stem for path in MODULES if insides(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert knowing == {"vector8"}


def test_vectors_know_them_only_where_they_were_tried():
    tree = ast.parse((ROOT / "knifecam/sweep/vector8.py").read_text(encoding="utf-8"))
    names = insides(tree)
    bare = ast.Module(unguarded(tree), [])
    assert not insides(bare)
    assert not {n.id for n in ast.walk(bare) if isinstance(n, ast.Name)} & set(names)


def test_the_compiler_is_capped_where_it_was_tried():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (wanted,) = (line for line in project["dependencies"] if line.startswith("numba"))
    first, last = TRIED[0], int(TRIED[-1].removeprefix("0."))
    assert wanted == f"numba>={first},<0.{last + 1}"
