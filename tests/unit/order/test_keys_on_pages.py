"""What the how-to pages write into an order is read, key by key, without a word against it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from knifecam.order.toml_text import OrderNotes, read_sections

PAGES = sorted((Path(__file__).parents[3] / "docs" / "how-to").glob("*.md"))
BLOCKS = [
    pytest.param(block, id=f"{page.stem} {k}")
    for page in PAGES
    for k, block in enumerate(re.findall(r"```toml\n(.*?)```", page.read_text(), re.S), start=1)
]


@pytest.mark.parametrize("block", BLOCKS)
def test_a_page_s_order_is_read(block: str, sound: str) -> None:
    raw = tomllib.loads(sound) | tomllib.loads(block)
    notes = OrderNotes()
    read_sections(raw, notes)
    assert notes.troubles == []


def test_the_pages_of_details_show_their_tables() -> None:
    shown = "\n".join(p.read_text() for p in PAGES)
    for table in ("[[slots]]", "[[patterns]]", "[[jimping]]", "[[edge_breaks]]", "neck = "):
        assert table in shown
