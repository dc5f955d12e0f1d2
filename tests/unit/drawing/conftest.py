"""Drawings made on the spot, so that no test rests on a file of someone else's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

MM = 4


@pytest.fixture
def dxf(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that lets ``draw`` fill a drawing and returns the path of its file."""

    def made(
        draw: Callable[[Document], None],
        *,
        version: str = "R2010",
        units: int | None = MM,
        binary: bool = False,
        name: str = "part.dxf",
    ) -> Path:
        document = ezdxf.new(version)
        if units is not None:
            document.header["$INSUNITS"] = units
        draw(document)
        path = tmp_path / name
        document.saveas(path, fmt="bin" if binary else "asc")
        if units is None:
            _forget_units(path)
        return path

    return made


def _forget_units(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    if "$INSUNITS" in lines:
        at = lines.index("$INSUNITS")
        del lines[at - 1 : at + 3]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
