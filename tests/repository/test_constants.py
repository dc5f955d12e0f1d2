"""A constant's name stands for one value: in two modules it is the same, or it is two names."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "knifecam"


def constants(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Yield name and value of each constant of a module; the value's source where it is no literal.

    Of names bound together each has its own part of the value, or the source and its place in it.
    """
    for node in tree.body:
        if isinstance(node, ast.Assign):
            targets, value = node.targets, node.value
        elif isinstance(node, ast.AnnAssign) and node.value is not None:
            targets, value = [node.target], node.value
        else:
            continue
        for target in targets:
            if isinstance(target, ast.Name):
                bound = [(target.id, said(value))]
            elif isinstance(target, (ast.Tuple, ast.List)):
                bound = [
                    (name.id, part(value, place))
                    for place, name in enumerate(target.elts)
                    if isinstance(name, ast.Name)
                ]
            else:
                continue
            yield from ((name, value) for name, value in bound if name.isupper())


def said(value: ast.expr) -> str:
    try:
        return repr(ast.literal_eval(value))
    except (ValueError, TypeError):
        return ast.unparse(value)


def part(value: ast.expr, place: int) -> str:
    if isinstance(value, (ast.Tuple, ast.List)):
        return said(value.elts[place])
    return f"{ast.unparse(value)}[{place}]"


def with_two_values(modules: dict[str, str]) -> dict[str, dict[str, list[str]]]:
    """Return name, value and modules of each constant that has more than one value."""
    found: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for module, text in modules.items():
        for name, value in constants(ast.parse(text)):
            found[name][value].append(module)
    return {name: dict(values) for name, values in found.items() if len(values) > 1}


def test_no_constant_has_two_values():
    modules = {
        str(path.relative_to(PACKAGE)): path.read_text(encoding="utf-8")
        for path in sorted(PACKAGE.rglob("*.py"))
    }
    assert len(modules) > 100
    assert with_two_values(modules) == {}


@pytest.mark.parametrize(
    ("first", "second", "names"),
    [
        ("A = 1.0", "A = 1", {"A"}),
        ("A = 1e-3", "A = 0.001", set()),
        ("A: float = 1.0", "A = 2.0", {"A"}),
        ("A, B = 1, 2", "B = 2\nA = 3", {"A"}),
        ("A, B = range(2)", "B, A = range(2)", {"A", "B"}),
        ("A = f(1)", "A = f(2)", {"A"}),
        ("_A = {1: f}", "_A = {2: f}", {"_A"}),
        ("a = 1\n__all__ = ['A']", "a = 2\n__all__ = ['B']", set()),
        ("def f():\n    A = 1", "A = 2", set()),
    ],
)
def test_a_name_with_two_values_is_found(first: str, second: str, names: set[str]):
    assert set(with_two_values({"first": first, "second": second})) == names


def test_a_name_with_two_values_in_one_module_is_found():
    assert set(with_two_values({"only": "A = 1\nA = 2"})) == {"A"}
