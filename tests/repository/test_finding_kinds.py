"""Kinds of finding: each is documented, found somewhere in the judge, and provoked on purpose."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import pytest

from knifecam.judge.finding_kinds import FINDING_KINDS, GROUPS, Kind, write_reference
from knifecam.judge.findings import Finding
from knifecam.order.order_tables import OrderText
from knifecam.order.toml_text import section_of
from tests.sabotage import (
    case,
    test_bevel_findings,
    test_each_finding,
    test_load_findings,
    test_sabotaged_programs,
    test_spoilt_bevels,
)

ROOT = Path(__file__).parents[2]
JUDGE = [p for p in sorted((ROOT / "knifecam/judge").glob("*.py")) if p.stem != "finding_kinds"]
EMITTERS = ("Finding", "first_and_worst", "at_motion", "at_line")

NOT_SABOTAGED: dict[Kind, str] = {}
"""Kinds that no wrong program provokes, and why not."""


def sabotaged() -> set[Kind]:
    """Return the kinds that a test provokes, and no other would do there."""
    assert case.SABOTAGES, test_sabotaged_programs.KINDS_OF_CASE
    words = [one[0] for one in test_each_finding.SABOTAGES]
    words += [one[0] for one in test_bevel_findings.SABOTAGES]
    words += [one[0] for one in test_load_findings.SABOTAGES]
    words += [one[0] for one in test_spoilt_bevels.SABOTAGES]
    for one in case.SABOTAGES:
        if len(one.kinds) == 1 and not one.missed:
            words += one.kinds
    return {Kind(word) for word in words}


def is_member(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and ast.unparse(node.value) == "Kind"


def emitted(tree: ast.AST) -> set[Kind]:
    """Return the kinds that a module hands on: compared with only, none is found."""
    compared = {
        id(part) for node in ast.walk(tree) if isinstance(node, ast.Compare)
        for part in ast.walk(node)
    }  # fmt: skip
    return {
        Kind[node.attr]
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and is_member(node) and id(node) not in compared
    }


def kind_arguments(tree: ast.AST) -> list[ast.expr]:
    """Return what a module gives as kind wherever it makes a finding."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and ast.unparse(node.func) in EMITTERS:
            named = [word.value for word in node.keywords if word.arg == "kind"]
            found += [*node.args[:1], *named][:1]
    return found


def test_the_page_is_what_the_list_of_kinds_says():
    assert (ROOT / "docs/reference/findings.md").read_text() == write_reference()


def test_each_kind_has_one_row():
    rows = Counter(kind for group in GROUPS.values() for kind in group)
    assert rows == Counter(Kind)
    assert list(FINDING_KINDS) == list(Kind)


@pytest.mark.parametrize("kind", Kind)
def test_a_row_says_what_it_means_and_what_would_do(kind):
    for words in (FINDING_KINDS[kind].meaning, FINDING_KINDS[kind].remedy):
        assert words == words.strip()
        assert not words.endswith(".")
        assert words
        assert "|" not in words


def test_each_kind_is_emitted_and_none_that_has_no_row():
    assert set().union(*(emitted(ast.parse(path.read_text())) for path in JUDGE)) == set(Kind)


def test_a_finding_is_made_with_a_member_and_never_with_a_word():
    for path in JUDGE:
        for node in kind_arguments(ast.parse(path.read_text())):
            told = f"{path.name}:{node.lineno}: {ast.unparse(node)}"
            assert is_member(node) or (isinstance(node, ast.Name) and node.id == "kind"), told


def test_each_kind_is_sabotaged_or_there_is_a_reason_why_not():
    assert sabotaged() == set(Kind) - set(NOT_SABOTAGED)


def test_what_a_kind_rests_on_are_keys_of_the_order():
    for kind, about in FINDING_KINDS.items():
        for path in about.rests_on:
            table, key = path.split(".")
            section = section_of(OrderText.model_fields[table])
            assert section is not None
            assert key in section.model_fields, (kind, path)


def test_a_finding_without_a_remedy_has_that_of_its_kind():
    plain = Finding(kind=Kind.PATH_MODE, side="A", line=3, message="feeds in G64")
    assert plain.remedy == "put G61 in the start block"
    own = Finding(kind=Kind.PATH_MODE, side="A", line=3, message="feeds in G64", remedy="add G61")
    assert own.remedy == "add G61"
    assert own.as_dict()["kind"] == "path-mode"
