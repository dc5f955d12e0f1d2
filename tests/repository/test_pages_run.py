"""Every order and every command that README and docs show does what its page says.

An order's part names in its first line the demo that it goes into: tables are added to the demo's
own, cutters take the place of those of their number, other lists that of the demo's. A page's
commands run one after the other, in a folder that holds nothing but the examples.
"""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from knifecam.cli import main
from knifecam.order import order_from_text
from knifecam.planning import lay_out
from tests.agreement.inch_twins import toml_lines

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
INTO = re.compile(r"# goes into (examples/[\w-]+\.toml)")

MADE: dict[str, Path] = {}
"""What each command has made: where another page gives the same, it is there already."""


def fences(page: Path, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(), re.S)


def of_pages(language: str) -> list[object]:
    return [
        pytest.param(text, id=f"{page.relative_to(ROOT)}-{k}")
        for page in PAGES
        for k, text in enumerate(fences(page, language))
    ]


def merged(order: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Return an order's tables with a page's part in them."""
    made = dict(order)
    for name, table in part.items():
        if name == "cutters":
            by_number = {c["number"]: c for c in [*order["cutters"], *table]}
            made[name] = [by_number[k] for k in sorted(by_number)]
        else:
            made[name] = {**order.get(name, {}), **table} if isinstance(table, dict) else table
    return made


@pytest.mark.parametrize("text", of_pages("toml"))
def test_an_order_on_a_page_is_planned(text: str) -> None:
    into = INTO.match(text)
    assert into is not None, "the first line does not name the demo"
    order = tomllib.loads((ROOT / into[1]).read_text())
    part = tomllib.loads(text)
    assert part
    whole = "\n".join(toml_lines(merged(order, part)))
    assert tomllib.loads(whole) == merged(order, part)
    assert lay_out(order_from_text(whole, folder=EXAMPLES)).cuts


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_commands_of_a_page_do_their_work(page: Path, tmp_path, monkeypatch, capsys) -> None:
    lines = [line for block in fences(page, "sh") for line in block.splitlines() if line]
    shutil.copytree(EXAMPLES, tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    for line in lines:
        _, ours, words = line.partition(".venv/bin/python -m knifecam ")
        if words in MADE:
            shutil.copytree(MADE[words], MADE[words].name)
        elif ours:
            assert main(shlex.split(words, comments=True)) == 0, line
            assert capsys.readouterr().out
            if out := re.match(r"make .* --out (\w+)$", words):
                MADE[words] = tmp_path / out[1]
        else:
            tests = re.findall(r"(?<=-m pytest )\S+\.py", line)
            assert "-m pytest" in line
            assert all((ROOT / one).exists() for one in tests)


@pytest.mark.parametrize("text", of_pages("python"))
def test_python_on_a_page_runs(text: str, monkeypatch, capsys) -> None:
    monkeypatch.chdir(ROOT)
    exec(compile(text, "<page>", "exec"), {"__name__": "page"})
    said = capsys.readouterr().out
    assert said
    assert "nan" not in said
