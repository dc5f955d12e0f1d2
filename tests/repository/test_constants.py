"""A constant's name stands for one value, and a room's bounds stand together in one table.

A bound is a number, or a tuple of numbers, that is no integer: a length, an angle, a share, a time.
No bounds are, by rule: signs and unit vectors (of 0 and 1 alone), conversions (``_PER_`` in the
name), what is proposed where an order is silent (``defaults`` is a table of its own), and sizes on a
page, which are named without a unit of geometry in a module that draws.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from itertools import pairwise
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "knifecam"

FUNCTIONS = {"np.radians", "math.radians", "np.tan", "math.tan", "np.cos", "math.cos", "float"}
"""What may be called for a number."""

NUMBERS = {"np.pi", "math.pi", "np.inf", "math.inf"}

GEOMETRY = ("_MM", "_UM", "_MM2", "_MM3", "_RAD", "_DEG", "_SHARE", "_SHARES", "_TIMES")
"""How a bound's name ends that is no size on a page."""

UNITS = (
    *GEOMETRY, "_S", "_MM_MIN", "_N_MM", "_N_MM2", "_HRC", "_INCH", "_COS", "_SIN", "_SLOPE", "_BULGE",
    "_DIAMETERS", "_RADII", "_CELLS", "_TRAVELS", "_PER_MM", "_PER_INCH",
)  # fmt: skip


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


def is_number(value: ast.expr) -> bool:
    match value:
        case ast.Constant(value=number):
            return type(number) in (int, float)
        case ast.Tuple(elts=parts) | ast.List(elts=parts):
            return all(map(is_number, parts))
        case ast.UnaryOp(operand=one):
            return is_number(one)
        case ast.BinOp(left=one, right=other):
            return is_number(one) and is_number(other)
        case ast.Name(id=name):
            return name.isupper()
        case ast.Attribute():
            return ast.unparse(value) in NUMBERS
        case ast.Call(func=function, args=parts):
            return ast.unparse(function) in FUNCTIONS and all(map(is_number, parts))
    return False


def is_bound(name: str, value: ast.expr, *, draws: bool) -> bool:
    """Return whether a constant is a bound, by the rules that stand above."""
    literals = [part.value for part in ast.walk(value) if isinstance(part, ast.Constant)]
    if not is_number(value) or not any(type(one) is float for one in literals):
        return False
    if all(one in (0, 1) for one in literals) or "_PER_" in name:
        return False
    return not draws or name.endswith(GEOMETRY)


def values_of(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """Yield name and value of each constant of a module; bound together, each its own part."""
    for node in tree.body:
        for name, value in constants(ast.Module([node], [])):
            with suppress(SyntaxError):
                yield name, ast.parse(value, mode="eval").body


def bounds_out_of_place(text: str) -> list[str]:
    """Return the bounds of a module that is no table."""
    draws = "\nfrom knifecam.sheet import " in text
    return [
        name for name, value in values_of(ast.parse(text)) if is_bound(name, value, draws=draws)
    ]


def rooms() -> Iterator[Path]:
    """Yield the rooms that have a table: all but cutting, where coefficients stand by their formulas."""
    for path in sorted(PACKAGE.glob("*/__init__.py")):
        if path.parent.name != "cutting":
            yield path.parent


def table_of(room: Path) -> Path:
    return room / f"{room.name}_limits.py"


def test_the_bounds_of_a_room_stand_in_its_table():
    found = {
        f"{room.name}/{path.stem}": names
        for room in rooms()
        for path in sorted(room.glob("*.py"))
        if path != table_of(room) and path.stem != "defaults"
        if (names := bounds_out_of_place(path.read_text(encoding="utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("GAP_MM = 0.1", ["GAP_MM"]),
        ("GAP_MM: float = -1e-6", ["GAP_MM"]),
        ("LOW_MM, MOST = 0.1, 3", ["LOW_MM"]),
        ("STEEP_RAD = np.radians(30.0)", ["STEEP_RAD"]),
        ("WIDE_MM = 1.5 * NARROW_MM", ["WIDE_MM"]),
        ("LANDS_MM = ((2.6, 0.25), (math.inf, 0.6))", ["LANDS_MM"]),
        ("MOST = 3\nINSIDE, OUTSIDE = 1.0, -1.0", []),
        ("MM_PER_INCH = 25.4", []),
        ("SIZES = {'mm': 1.0, 'in': 25.4}\nNOTE = 'over 0.5 mm'", []),
        (
            "from x import y\nfrom knifecam.sheet import sheet\nLINE = 0.7\nPATCH_MM = 0.4",
            ["PATCH_MM"],
        ),
        ("def f():\n    GAP_MM = 0.1", []),
    ],
)
def test_a_bound_out_of_place_is_found(text: str, names: list[str]):
    assert bounds_out_of_place(text) == names


def test_each_bound_of_a_table_ends_in_its_unit_and_says_what_it_bounds():
    """Counts have no unit (one that is written as a float begins with ``MOST_``), nor have the numbers
    of the language."""
    for table in map(table_of, rooms()):
        tree = ast.parse(table.read_text(encoding="utf-8"))
        assert bounds_out_of_place(ast.unparse(tree)) != []
        for name, value in values_of(tree):
            if is_bound(name, value, draws=False) and not name.startswith("MOST_"):
                assert name.endswith(UNITS) or table.parent.name == "rs274", (table.stem, name)
        for node, after in pairwise([*tree.body, None]):
            if isinstance(node, (ast.Assign, ast.AnnAssign)):
                assert isinstance(after, ast.Expr), (table.stem, ast.unparse(node))
                assert isinstance(after.value, ast.Constant), (table.stem, ast.unparse(node))
