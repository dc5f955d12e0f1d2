"""Cutting data by kind of engagement and hardness: speed, chip, depth, width, life, each with its source.

The figures stand in ``cutting_data.toml`` beside this module; a maker's own file of the same form
replaces the kinds it holds. Lengths in mm, speeds in m/min.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import numpy as np

from knifecam.errors import OrderError
from knifecam.record import as_written

SLOTTING, HELIX, SIDE, BEVEL, FINISHING, CHAMFERING = (
    "slot", "helix", "side", "bevel", "finish", "chamfer",
)  # fmt: skip
ENGAGEMENTS = (SLOTTING, HELIX, SIDE, BEVEL, FINISHING, CHAMFERING)

PACES = ("first", "usual", "full")
"""The first blade of a kind; what is usual; what the tables give at most."""

VALUES = ("speed", "chip", "depth", "width", "life")


@dataclass(frozen=True, slots=True, kw_only=True)
class EngagementData:
    """Figures of one kind of engagement at one hardness.

    ``speed`` in m/min and ``depth`` in diameters have one figure a pace (`PACES`); ``chip`` holds
    (diameter in mm, greatest thickness in um), ``width`` is in diameters, ``life`` in minutes.
    ``source`` says where each figure comes from.
    """

    kind: str
    hardness: float
    speed: tuple[float, ...]
    chip: tuple[tuple[float, float], ...]
    depth: tuple[float, ...]
    width: float
    life: float
    source: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingData:
    """All rows, by kind and hardness, and the pace at which they are read."""

    rows: tuple[EngagementData, ...]
    pace: str = "usual"

    def speed(self, kind: str, hardness: float) -> float:
        """Return the surface speed in m/min."""
        return self._at(kind, hardness, lambda row: row.speed[PACES.index(self.pace)])

    def chip(self, kind: str, hardness: float, diameter: float) -> float:
        """Return the greatest thickness of the chip, mm, for a cutter of ``diameter`` mm."""
        return self._at(kind, hardness, lambda row: _by_diameter(row.chip, diameter)) / 1000.0

    def depth(self, kind: str, hardness: float) -> float:
        """Return the depth of a level, or of a turn, in diameters."""
        return self._at(kind, hardness, lambda row: row.depth[PACES.index(self.pace)])

    def width(self, kind: str, hardness: float) -> float:
        """Return the step aside in diameters."""
        return self._at(kind, hardness, lambda row: row.width)

    def life(self, kind: str, hardness: float) -> float:
        """Return the minutes of contact that a cutter lives."""
        return self._at(kind, hardness, lambda row: row.life)

    def _at(self, kind: str, hardness: float, figure: Any) -> float:
        rows = [row for row in self.rows if row.kind == kind]
        return float(np.interp(hardness, [r.hardness for r in rows], [figure(r) for r in rows]))


def _by_diameter(points: tuple[tuple[float, float], ...], diameter: float) -> float:
    """Return what holds at a diameter: linear, below the first in proportion, held beyond the last."""
    places, values = zip(*points, strict=True)
    share = min(1.0, diameter / places[0])
    return float(np.interp(diameter, places, values)) * share


@cache
def usual_data(pace: str = "usual") -> CuttingData:
    """Return the data that comes with knifecam, read at a pace."""
    text = resources.files("knifecam.shop").joinpath("cutting_data.toml").read_text("utf-8")
    return CuttingData(rows=rows_of(text, "cutting_data.toml"), pace=pace)


def own_data(text: str, name: str, pace: str = "usual") -> CuttingData:
    """Return the usual data with the kinds that a maker's own file holds in place of its own.

    Raises
    ------
    OrderError
        For everything wrong with the file called ``name``, one line each.
    """
    own = rows_of(text, name)
    kinds = {row.kind for row in own}
    kept = tuple(row for row in usual_data().rows if row.kind not in kinds)
    return CuttingData(rows=(*kept, *own), pace=pace)


def rows_of(text: str, name: str) -> tuple[EngagementData, ...]:
    """Return the rows of a file of cutting data, by kind and hardness; raises as `own_data` does."""
    try:
        held = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise OrderError(f'cutting_data="{name}" is not TOML: {error}') from error
    tables = held.pop("data", None)
    if held or not isinstance(tables, list) or not tables:
        raise OrderError(
            f'cutting_data="{name}" must hold [[data]] tables and nothing else'
            + (f"; take out {', '.join(map(as_written, held))}" if held else "")
        )
    troubles = [
        f'cutting_data="{name}", data[{place}]: {line}'
        for place, table in enumerate(tables, start=1)
        for line in _faults(table)
    ]
    if troubles:
        raise OrderError(troubles)
    rows = sorted((_row(table) for table in tables), key=lambda row: (row.kind, row.hardness))
    for one, other in pairwise(rows):
        if (one.kind, one.hardness) == (other.kind, other.hardness):
            raise OrderError(
                f'cutting_data="{name}": kind "{one.kind}" stands twice at {one.hardness:g} HRC;'
                " keep one of the two"
            )
    return tuple(rows)


def _faults(table: object) -> Iterator[str]:
    """Yield what is wrong with one table."""
    if not isinstance(table, dict):
        yield "must be a table"
        return
    known = ("kind", "hardness", *VALUES, "source")
    yield from (
        f"{key} is no key; known are {', '.join(known)}" for key in table if key not in known
    )
    yield from (f"{key} is missing" for key in known[:-1] if key not in table)
    if table.get("kind", ENGAGEMENTS[0]) not in ENGAGEMENTS:
        yield f"kind={as_written(table['kind'])} must be one of {', '.join(ENGAGEMENTS)}"
    bounds = {"hardness": (20.0, 70.0), "width": (0.0, 1.0), "life": (0.0, 10000.0)}
    for key, (low, high) in bounds.items():
        if key in table and not _number(table[key], low, high):
            yield f"{key}={as_written(table[key])} must be greater than {low:g} and at most {high:g}"
    for key, high in (("speed", 1000.0), ("depth", 3.0)):
        if key in table and not _rising(table[key], high):
            yield (
                f"{key}={as_written(table[key])} must be three numbers, for pace first, usual and"
                f" full, none less than the one before, greater than 0 and at most {high:g}"
            )
    if "chip" in table and not _pairs(table["chip"]):
        yield (
            f"chip={as_written(table['chip'])} must be pairs [diameter in mm, chip in um], diameters"
            " rising, chips greater than 0 and at most 100"
        )
    source = table.get("source", {})
    if not isinstance(source, dict) or not all(isinstance(one, str) for one in source.values()):
        yield "source must be a table of texts"


def _number(value: object, above: float, most: float) -> bool:
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    return plain and math.isfinite(value) and above < value <= most  # type: ignore[arg-type, operator]


def _rising(value: object, most: float) -> bool:
    if not isinstance(value, list) or len(value) != len(PACES):
        return False
    return all(_number(one, 0.0, most) for one in value) and value == sorted(value)


def _pairs(value: object) -> bool:
    if not isinstance(value, list) or not value:
        return False
    if not all(isinstance(one, list) and len(one) == 2 for one in value):
        return False
    if not all(_number(d, 0.0, 50.0) and _number(chip, 0.0, 100.0) for d, chip in value):
        return False
    return all(one[0] < other[0] for one, other in pairwise(value))


def _row(table: Mapping[str, Any]) -> EngagementData:
    return EngagementData(
        kind=table["kind"],
        hardness=float(table["hardness"]),
        speed=tuple(map(float, table["speed"])),
        chip=tuple((float(d), float(chip)) for d, chip in table["chip"]),
        depth=tuple(map(float, table["depth"])),
        width=float(table["width"]),
        life=float(table["life"]),
        source=MappingProxyType(dict(table.get("source", {}))),
    )
