"""Whether what was left of tabs holds all of the blade: how far its ends hang out, and hinges."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import resample
from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import as_place, at_line
from knifecam.simulator.verdict import Finding

SHORT = 60.0
"""mm: a blade no longer than this is held by one tab (common practice)."""

FARTHEST = 90.0
"""mm that an end may hang out beyond the last tab (common practice)."""

TOGETHER = 0.25
"""Share of the blade's length within which tabs are one hinge (common practice)."""

SCREWED = 10.0
"""Plate thicknesses that may hang out beyond a screw (common practice)."""

ROUNDING = 0.5
"""mm: places of tabs are measured, those that were ordered are moved by as much at most."""

REMEDY = "let tabs stand nearer to both ends, hold it by screws, or clamp its far end"


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind overhang."""
    hold = case.order.setup.hold
    if not case.whole or hold.tip_clamp:
        return
    if hold.kind == "tabs":
        yield from _tabs(case)
    elif hold.screws and not case.bridges:
        yield from _screws(case)


def _tabs(case: Case) -> Iterator[Finding]:
    """Judge the tabs' places along the blade's longest way, its principal axis."""
    if not case.bridges:  # told as loose
        return
    points = resample(case.wanted.outline, 0.5)[1]
    middle = points.mean(axis=0)
    axis = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    ways = (points - middle) @ axis
    length = float(np.ptp(ways))
    if not length > SHORT + ROUNDING:
        return
    at = np.sort((np.array([b.place for b in case.bridges]) - middle) @ axis)
    span = float(at[-1] - at[0])
    if not span >= TOGETHER * length - ROUNDING:
        sentence = (
            f"{len(at)} tab{'s' if len(at) > 1 else ''} within span={mm(span):.1f} hold a blade"
            f" {mm(length):.1f} long like a hinge; {mm(TOGETHER * length):.1f} is the least"
        )
        yield at_line(
            "overhang", "B", 0, sentence, REMEDY, place=as_place([*case.bridges[0].place, 0.0]),
            measured=span, allowed=TOGETHER * length,
        )  # fmt: skip
        return
    ends = (float(at[0] - ways.min()), float(ways.max() - at[-1]))
    worst = max(ends)
    if not worst <= FARTHEST + ROUNDING:
        k = int(np.argmin(ways)) if ends[0] >= ends[1] else int(np.argmax(ways))
        sentence = (
            f"an end of the blade hangs out={mm(worst):.1f} beyond the last tab;"
            f" {mm(FARTHEST):g} is allowed"
        )
        yield at_line(
            "overhang", "B", 0, sentence, REMEDY, place=as_place([*points[k], 0.0]),
            measured=worst, allowed=FARTHEST,
        )  # fmt: skip


def _screws(case: Case) -> Iterator[Finding]:
    """Judge how far the outline is from the nearest screw where no tab stands beside them."""
    order = case.order
    screws = [b.centre for b in order.blade.bores if b.name in order.setup.hold.screws]
    if not screws:
        return
    points = resample(case.wanted.outline, 0.5)[1]
    away = np.min([np.hypot(*(points - centre).T) for centre in screws], axis=0)
    k, allowed = int(np.argmax(away)), SCREWED * order.blade.thickness
    if not away[k] <= allowed + ROUNDING:
        sentence = (
            f"an end of the blade hangs out={mm(away[k]):.1f} beyond the nearest screw with no tab;"
            f" {mm(allowed):g} is allowed"
        )
        yield at_line(
            "overhang", "B", 0, sentence, REMEDY, place=as_place([*points[k], 0.0]),
            measured=float(away[k]), allowed=allowed,
        )  # fmt: skip
