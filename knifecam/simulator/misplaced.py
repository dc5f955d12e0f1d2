"""A side that lies otherwise on the bed than its program takes it to lie."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from knifecam.quantity import NAME, bare, mm, told
from knifecam.simulator.frame import Frame
from knifecam.simulator.verdict import Verdict

OF_THE_TEXT = ("stop", "first-move")
"""Kinds of finding about how the program is written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Misplacement:
    """How the plate lies: shifted by ``x``, ``y``, raised by ``z`` mm, turned by ``angle`` rad.

    In the program frame of the side, the turn about the program's zero, counter-clockwise seen from
    the spindle, before the shift. A chip under the plate raises it.
    """

    x: float = 0.0
    y: float = 0.0
    z: float = 0.0
    angle: float = 0.0

    def __post_init__(self) -> None:
        for name in ("x", "y", "z", "angle"):
            if not math.isfinite(getattr(self, name)):
                raise ValueError(f"{name}={getattr(self, name)} must be a finite number")

    @property
    def angle_deg(self) -> float:
        """The turn in degrees."""
        return math.degrees(self.angle)


def lying(frame: Frame, place: Misplacement) -> Frame:
    """Return the frame of a side whose plate is misplaced on top of how it was taken to lie."""
    c, s = np.cos(place.angle), np.sin(place.angle)
    return replace(
        frame,
        angle=frame.angle + place.angle,
        x=float(c * frame.x - s * frame.y) + place.x,
        y=float(s * frame.x + c * frame.y) + place.y,
        zero=frame.zero - place.z,
    )


def effects(right: Verdict, moved: Verdict) -> dict[str, Any]:
    """Return what a misplaced side B does: each figure as ordered and as it lies, mm.

    ``walls_apart`` and ``bores_apart`` are the greatest steps between the sides' walls and bores,
    ``tab_thickness``, ``tab_waist`` and ``land`` the least and greatest there are; None where there
    are none. ``findings`` counts the kinds of finding; how a cutter is set and comes down first is
    left out, for it is the program's and no plate's that lies a little otherwise.
    """
    told: dict[str, Any] = {}
    for name in ("walls_apart", "bores_apart", "tab_thickness", "tab_waist", "land"):
        told[name] = {"as_ordered": _FIGURES[name](right), "misplaced": _FIGURES[name](moved)}
    kinds = Counter(f.kind for f in moved.findings if f.kind not in OF_THE_TEXT)
    told["findings"] = dict(sorted(kinds.items()))
    return told


def _walls(verdict: Verdict) -> float | None:
    step: float | None = verdict.measures["outline"].get("mismatch")
    return step


def _bores(verdict: Verdict) -> float | None:
    steps = [b["mismatch"] for b in verdict.measures["bores"] if b.get("mismatch") is not None]
    return max(steps, default=None)


def _range(values: list[float | None]) -> list[float] | None:
    known = [v for v in values if v is not None]
    return [min(known), max(known)] if known else None


def _thickness(verdict: Verdict) -> list[float] | None:
    return _range([v for tab in verdict.measures["tabs"] for v in tab["thickness"][:1]])


def _waist(verdict: Verdict) -> list[float] | None:
    return _range([tab["waist"] for tab in verdict.measures["tabs"]])


def _land(verdict: Verdict) -> list[float] | None:
    lands = [bevel["land"] for bevel in verdict.measures["bevels"] if bevel["land"]]
    return _range([land["measured"][end] for land in lands for end in ("least", "most")])


_FIGURES = {
    "walls_apart": _walls,
    "bores_apart": _bores,
    "tab_thickness": _thickness,
    "tab_waist": _waist,
    "land": _land,
}


def effect_lines(place: Misplacement, effect: dict[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield what a misplaced side B does in plain lines, in "mm" or "in"."""
    for line in _effect_lines(place, effect):
        yield told(line, units)


def _effect_lines(place: Misplacement, effect: dict[str, Any]) -> Iterator[str]:
    yield (
        f"side B lying {bare(place.x):g}, {mm(place.y):g} aside, {mm(place.z):g} high, turned"
        f" {place.angle_deg:g} degrees (as ordered in brackets):"
    )
    for name, figures in effect.items():
        if name != "findings" and figures["misplaced"] is not None:
            before, after = _shown(figures["as_ordered"]), _shown(figures["misplaced"])
            yield f"  {name.replace('_', ' ')} {after}{NAME} ({before})"
    found = ", ".join(f"{kind} x{count}" for kind, count in effect["findings"].items())
    yield f"  findings: {found or 'none'}"


def _shown(figure: float | list[float] | None) -> str:
    if figure is None:
        return "-"
    if isinstance(figure, list):
        return f"{bare(figure[0]):.3f} to {bare(figure[1]):.3f}"
    return f"{bare(figure):.3f}"
