"""Edges that are, or may become, too thin; and thin edges that were milled from the side."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import mm
from knifecam.shop import Setup
from knifecam.simulator.case import Case
from knifecam.simulator.judge.disturbed import (
    DISTURBANCES,
    HAIR,
    Disturbance,
    kept_more,
    plate_more,
)
from knifecam.simulator.judge.hit import Told, as_place, at_line, folded
from knifecam.simulator.measure_edge import Edge
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]

LAND = 0.005
"""mm: how much thinner or thicker than ordered a land may be."""

LEAST_LAND = 0.05
"""mm: a land that may become thinner than this, with plate and zeros disturbed, does not stand."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind thin-edge, and uncut for lands that are too thick."""
    for edge in case.edges:
        yield from _thinner(edge)
        yield from _thicker(edge)
        yield from _disturbed(edge, case)
        yield from _milled_last(edge, case)


def land_range(case: Case, edge: Edge) -> dict[str, tuple[float, float]]:
    """Return the least and the greatest land, mm, under every disturbance."""
    found = {}
    for disturbance in DISTURBANCES:
        land = edge.land + land_more(case.order.setup, disturbance, edge)
        found[disturbance.name] = float(land.min()), float(land.max())
    return found


def land_more(setup: Setup, disturbance: Disturbance, edge: Edge) -> Floats:
    """Return by how much the land grows at the edge's places, (n,) mm.

    A face that no cutter met lies on the bed while the other is cut, and is the plate's own: there
    the land is what the side that cuts leaves above the bed. Where both cut, what is above either
    bed together exceeds the land by the plate's thickness.
    """
    plate = plate_more(setup, disturbance, edge.points[:, 0])
    above = [
        np.where(edge.finished[k] >= 0, kept_more(setup, disturbance, side), plate)
        for k, side in enumerate("AB")
    ]
    return np.asarray(above[0] + above[1] - plate)


def _thinner(edge: Edge) -> Iterator[Finding]:
    lack = edge.wanted - edge.land
    k = int(np.argmax(lack))
    if not lack[k] > LAND:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {mm(edge.land[k]):.4f} at {mm(edge.stations[k]):.1f} "
        f"along the edge; {mm(edge.wanted[k]):.4f} is ordered, {mm(LAND):g} less is allowed"
    )
    yield at_line(
        "thin-edge", "B", 0, sentence, "check cutter lengths, diameters and both sides' zeros",
        place=as_place([*edge.points[k], edge.bevel.edge_at]), measured=float(edge.land[k]),
        allowed=float(edge.wanted[k] - LAND),
    )  # fmt: skip


def _thicker(edge: Edge) -> Iterator[Finding]:
    # where another bevel's face runs over the edge, that bevel's cusps are judged, not a land
    more = np.where(edge.own, edge.land - edge.wanted, -np.inf)
    k = int(np.argmax(more))
    if not more[k] > LAND:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {mm(edge.land[k]):.4f} at {mm(edge.stations[k]):.1f} "
        f"along the edge; {mm(edge.wanted[k]):.4f} is ordered, {mm(LAND):g} more is allowed"
    )
    yield at_line(
        "uncut", "B", 0, sentence, "finish bevels and plunges finer beside the edge, to their depth",
        place=as_place([*edge.points[k], edge.bevel.edge_at]), measured=float(edge.land[k]),
        allowed=float(edge.wanted[k] + LAND),
    )  # fmt: skip


def _disturbed(edge: Edge, case: Case) -> Iterator[Finding]:
    lands = land_range(case, edge)
    name = min(lands, key=lambda key: lands[key][0])
    found = lands[name][0]
    if not found < LEAST_LAND - HAIR:
        return
    disturbance = next(d for d in DISTURBANCES if d.name == name)
    k = int(np.argmin(edge.land + land_more(case.order.setup, disturbance, edge)))
    sentence = (
        f"{name}, the land of bevel {edge.bevel.name} is {mm(found):.3f}; "
        f"{mm(LEAST_LAND):g} must remain"
    )
    yield at_line(
        "thin-edge", "B", 0, sentence, _steadier(edge, k),
        place=as_place([*edge.points[k], edge.bevel.edge_at]), measured=found, allowed=LEAST_LAND,
    )  # fmt: skip


def _steadier(edge: Edge, k: int) -> str:
    """Return what keeps the land at a place from being moved so far."""
    cut = [side for side, last in zip("AB", edge.finished[:, k], strict=True) if last >= 0]
    if len(cut) == 1:
        return f"order a thicker land, or zero Z of side {cut[0]} on the bed"
    return "order a thicker land, or zero Z of one side on the face and of the other on the bed"


def _milled_last(edge: Edge, case: Case) -> Iterator[Finding]:
    """Yield where the wall of an edge was milled after both its bevels had been finished."""
    if edge.bevel.sides != "both":
        return
    late = (edge.finished >= 0).all(axis=0) & (edge.opened > edge.finished.max(axis=0))
    hits = np.flatnonzero(late)
    if not len(hits):
        return
    side, _ = case.side_of(int(edge.opened[hits[0]]))
    hits = hits[edge.opened[hits] >= side.first]
    land = edge.land[hits]
    heights = np.full(len(hits), edge.bevel.edge_at)

    def tell(k: int) -> Told:
        sentence = (
            f"mills the side of the edge of bevel {edge.bevel.name} when both its bevels are "
            f"finished and only {mm(land[k]):.3f} is left to bear it"
        )
        return sentence, float(land[k]), None

    yield from folded(
        "thin-edge", side, edge.opened[hits] - side.first, tell=tell,
        places=np.column_stack([edge.points[hits], heights]),
        remedy="open the edge side and finish its wall before the last bevel is cut",
    )  # fmt: skip
