"""Docs, README and records agree with what there is."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

import knifecam

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
READ_BY_TOOLS = (ROOT / "README.md").read_text()


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text()):
        if not re.match(r"[a-z]+:", target):
            assert (page.parent / target).exists(), target


def test_sources_are_the_sources_themselves():
    """No pointer to a paper that is not here, none to a trader's page or a calculator on the web."""
    here = Path(__file__)
    for path in [*(ROOT / "knifecam").rglob("*.py"), *(ROOT / "tests").rglob("*.py"), *PAGES]:
        if path != here:
            text = path.read_text()
            assert "check values" not in text, path
            assert re.findall(r"\b[\w-]+\.(?:com|net)\b(?!\.)", text) == [], path


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_python_in_pages_parses(page):
    for block in re.findall(r"```python\n(.*?)```", page.read_text(), re.S):
        ast.parse(block)


def test_the_readme_gives_exactly_two_commands_first():
    blocks = re.findall(r"```sh\n(.*?)```", READ_BY_TOOLS, re.S)
    assert "-m knifecam make examples/" in blocks[0]
    assert "-m pytest" in blocks[1]
    assert all("pip install" in block and block.count("\n") == 1 for block in blocks[:2])


def test_every_public_name_loads():
    for name in knifecam.__all__:
        assert getattr(knifecam, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        knifecam.nothing  # noqa: B018


def test_no_public_name_is_that_of_a_module():
    """Importing a module would put it in the name's place."""
    modules = {path.stem for path in (ROOT / "knifecam").iterdir()}
    assert modules & (set(knifecam.__all__) - {"__version__"}) == set()


def test_importing_the_root_loads_no_room():
    code = "import sys, knifecam; print([m for m in sys.modules if m.startswith('knifecam.')])"
    import sys

    seen = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert seen.stdout.strip() == "[]"


def test_the_guide_for_contributors_fits_two_pages_beside_its_map():
    before, _, rest = (ROOT / "DEVELOPERS.md").read_text().partition("## Map\n")
    after = rest[rest.index("\n## ") :]
    assert 500 < len(f"{before}{after}".split()) < 1000


def test_example_scripts_are_short():
    for script in (ROOT / "examples").glob("*.py"):
        if script.name not in ("draw_demos.py",):
            assert len(script.read_text().splitlines()) <= 60, script.name
