"""The page of `verdict.json` has every key of real verdicts, and none that no verdict has."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from knifecam.cli import main
from knifecam.making import make
from tests.sabotage.made import ORDERS

ROOT = Path(__file__).parents[2]
NAMED = ("contact_minutes", "disturbed", "worst_case_tabs", "registration_residuals")
"""Objects whose names are cutters, cases or bores."""
SPREAD = {"least", "mean", "most"}
ONLY_SOMETIMES = {"measures.bores[].ground"}
"""Keys of orders that are not made here: blind bores."""


def keys(value: Any, at: str = "") -> Iterator[str]:
    """Yield the paths of an object's leaves as the page writes them."""
    if isinstance(value, dict) and value and set(value) != SPREAD and at != "files":
        for name, one in value.items():
            key = "*" if at.endswith(NAMED) else "A" if name == "B" else name
            yield from keys(one, f"{at}.{key}" if at else key)
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for one in value:
            yield from keys(one, f"{at}[]")
    elif at.endswith(NAMED) and not at.endswith("cuts[].contact_minutes"):
        yield f"{at}.*"
    else:
        yield at


def on_page() -> set[str]:
    """Return the keys of all tables, each below its heading's object."""
    found = set()
    text = (ROOT / "docs/reference/verdict.md").read_text()
    for block in text.split("\n## ")[1:]:
        under = re.match(r"`([^`]+)`\n", block)
        before = f"{under[1]}." if under else ""
        for cells in re.findall(r"^\| (`[^|]+`) \|", block, re.M):
            found |= {before + key for key in re.findall(r"`([^`]+)`", cells)}
        if under and "| `" not in block:
            found.add(under[1])
    return found


def test_the_page_has_each_key_of_a_verdict(tmp_path, capsys):
    order = ROOT / "examples/netting-knife-60.toml"
    assert main(["make", str(order), "--out", str(tmp_path)]) == 0
    seen = set(keys(json.loads((tmp_path / "verdict.json").read_text())))
    for name in ("measured", "necked"):
        seen |= set(keys(make(ORDERS[name]()).verdict.as_dict()))
    page = on_page()
    none = {key for key in seen if any(p.startswith((f"{key}[].", f"{key}.")) for p in page)}
    assert seen - none == page - ONLY_SOMETIMES
