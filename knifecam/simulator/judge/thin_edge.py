"""Edges that are, or may become, too thin; and thin edges that were milled from the side."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.simulator.case import Case
from knifecam.simulator.judge.disturbed import DISTURBANCES, HAIR, thicker_between
from knifecam.simulator.judge.hit import Told, as_place, at_line, folded
from knifecam.simulator.measure_edge import Edge
from knifecam.simulator.verdict import Finding

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
    setup = case.order.setup
    found = {}
    for disturbance in DISTURBANCES:
        more = np.array([thicker_between(setup, disturbance, float(x)) for x in edge.points[:, 0]])
        land = edge.land + more
        found[disturbance.name] = float(land.min()), float(land.max())
    return found


def _thinner(edge: Edge) -> Iterator[Finding]:
    lack = edge.wanted - edge.land
    k = int(np.argmax(lack))
    if not lack[k] > LAND:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {edge.land[k]:.4f} mm at {edge.stations[k]:.1f} mm "
        f"along the edge; {edge.wanted[k]:.4f} mm is ordered, {LAND:g} mm less is allowed"
    )
    yield at_line(
        "thin-edge", "B", 0, sentence, "check cutter lengths, diameters and both sides' zeros",
        place=as_place([*edge.points[k], edge.bevel.edge_at]), measured=float(edge.land[k]),
        allowed=float(edge.wanted[k] - LAND),
    )  # fmt: skip


def _thicker(edge: Edge) -> Iterator[Finding]:
    # where another bevel's face runs over the edge, that bevel's cusps are judged, not a land
    own = edge.wanted >= edge.bevel.land - LAND
    more = np.where(own, edge.land - edge.wanted, -np.inf)
    k = int(np.argmax(more))
    if not more[k] > LAND:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {edge.land[k]:.4f} mm at {edge.stations[k]:.1f} mm "
        f"along the edge; {edge.wanted[k]:.4f} mm is ordered, {LAND:g} mm more is allowed"
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
    k = int(np.argmin(edge.land))
    sentence = (
        f"{name}, the land of bevel {edge.bevel.name} is {found:.3f} mm; "
        f"{LEAST_LAND:g} mm must remain"
    )
    yield at_line(
        "thin-edge", "B", 0, sentence, "order a thicker land, or zero both Z alike",
        place=as_place([*edge.points[k], edge.bevel.edge_at]), measured=found, allowed=LEAST_LAND,
    )  # fmt: skip


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
            f"finished and only {land[k]:.3f} mm is left to bear it"
        )
        return sentence, float(land[k]), None

    yield from folded(
        "thin-edge", side, edge.opened[hits] - side.first, tell=tell,
        places=np.column_stack([edge.points[hits], heights]),
        remedy="open the edge side and finish its wall before the last bevel is cut",
    )  # fmt: skip
