"""The reference on disk is the one the model writes, and it knows every key."""

from __future__ import annotations

from pathlib import Path

import pytest

from knifecam.order.order_reference import write_reference
from knifecam.order.order_tables import OrderText
from knifecam.order.toml_text import section_of

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "order.md"


def test_the_page_is_what_the_model_writes() -> None:
    assert PAGE.read_text(encoding="utf-8") == write_reference(), (
        "write it anew: python -m knifecam.order.order_reference > docs/reference/order.md"
    )


def tables(section: type = OrderText, path: str = "") -> list[tuple[str, str]]:
    found = []
    for key, about in section.model_fields.items():
        inner = section_of(about)
        if inner is None:
            found.append((path, key))
        else:
            found += tables(inner, f"{path}.{key}".lstrip("."))
    return found


@pytest.mark.parametrize(("path", "key"), tables(), ids=str)
def test_every_key_has_unit_default_and_meaning(path: str, key: str) -> None:
    (part,) = [
        part
        for part in write_reference().split("\n## ")
        if part.split("\n")[0].strip("`[]") == (path or "At the top")
    ]
    (row,) = [line for line in part.splitlines() if line.startswith(f"| `{key}` |")]
    unit, default, _, meaning = (cell.strip() for cell in row.strip("|").split("|")[1:])
    assert unit
    assert default
    assert meaning


def test_no_line_names_a_machine_or_a_missing_value() -> None:
    page = write_reference()
    assert "MISSING" not in page
    assert "None" not in page
