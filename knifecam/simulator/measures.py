"""The figures of a verdict: plain numbers and words, mm and minutes unless the name says so."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import told
from knifecam.simulator.case import Case
from knifecam.simulator.duration import Duration, duration_of
from knifecam.simulator.figures import detail_figures, place_of, rounded
from knifecam.simulator.hidden import unreachable
from knifecam.simulator.judge.climb import finishing_length
from knifecam.simulator.judge.disturbed import tab_thickness
from knifecam.simulator.judge.feeds import contact_minutes
from knifecam.simulator.judge.mismatch import apart, steps_between
from knifecam.simulator.judge.uncut import opening_left, wall_left
from knifecam.simulator.load import hardest
from knifecam.simulator.measure_bores import Opening
from knifecam.simulator.measure_motion import bounds
from knifecam.simulator.measure_tabs import Bridge
from knifecam.simulator.measure_walls import Reached
from knifecam.simulator.restart import cut_starts
from knifecam.simulator.side import Side

Floats = NDArray[np.float64]

BEND_STRENGTH = (2500.0, 3500.0)
"""N/mm2: hardened knife steel, low and high (common practice)."""

MINUTES = (
    "trapezoids of speed with the mill's acceleration, slowed at corners, on exact path; "
    "cutter changes 2 min by hand, else 10 s, hand stops 1 min; contact at the programmed feed"
)


def measures(case: Case) -> dict[str, Any]:
    """Return all measures of a case."""
    frame, place = case.least_frame
    return {
        "cell": case.grid.cell,
        "minutes_are": MINUTES,
        "sides": {side.name: _side(side, case) for side in case.given()},
        "outline": _outline(case),
        "tabs": [_tab(bridge) for bridge in case.bridges],
        "bores": [_bore(o) for o in case.openings if o.kind != "slot"],
        "slots": [_slot(o, case) for o in case.openings if o.kind == "slot"],
        "frame": {"least": rounded(frame), "place": place_of(place)},
        "disturbed_tabs": {
            told(name): [rounded(t) for t in rows] for name, rows in tab_thickness(case).items()
        },
        "registration_residuals": {
            name: rounded(left) for side in case.given() for name, left in side.frame.residuals
        },
        "unreachable": unreachable(case),
        "pieces": len(case.pieces),
        **detail_figures(case),
    }


def _side(side: Side, case: Case) -> dict[str, Any]:
    mill = case.order.setup.mill
    low, high = bounds(side)
    spans = duration_of(side.trace, mill)
    moving = spans.moving / 60.0
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    spent = contact_minutes(side)
    return {
        "motions": len(side),
        "path": rounded(float(side.motions.lengths[~side.rapid].sum()), 1),
        "volume": rounded(float(side.volume.sum()), 3),
        "feed_minutes": rounded(float(moving[~side.rapid].sum()), 3),
        "rapid_minutes": rounded(float(moving[side.rapid].sum()), 3),
        "waiting_minutes": rounded(spans.total / 60.0 - float(moving.sum()), 3),
        "minutes": rounded(spans.total / 60.0, 3),
        "contact_minutes": {
            str(number): [rounded(minutes, 3) for minutes, _ in rows]
            for number, rows in sorted(spent.items())
        },
        "deepest": rounded(side.face - float(lowest.min(initial=side.face))),
        "extent": {
            axis: [rounded(float(low[k])), rounded(float(high[k]))] for k, axis in enumerate("XYZ")
        },
        "finishing_length": rounded(finishing_length(side, case), 1),
        "hardest": hardest(side, case.order),
        "cuts": _cuts(side, spans),
    }


def _cuts(side: Side, spans: Duration) -> list[dict[str, Any]]:
    starts = cut_starts(side.text)
    begin = np.searchsorted(side.trace.line, starts)
    end = np.append(begin[1:], len(side))
    spent = np.where(side.contact, side.minutes, 0.0)
    return [
        {
            "line": line,
            "name": side.text_line(line).strip("() "),
            "volume": rounded(float(side.volume[low:high].sum()), 3),
            "minutes": rounded(spans.between(int(low), int(high)) / 60.0, 3),
            "contact_minutes": rounded(float(spent[low:high].sum()), 3),
        }
        for line, low, high in zip(starts, begin, end, strict=False)
    ]


def _outline(case: Case) -> dict[str, Any]:
    found: dict[str, Any] = {}
    heights, want = case.wall.heights, case.wanted
    own = {"A": heights > want.floor_b, "B": heights < want.tab_low}
    stays = wall_left(case)
    for name, reached in zip("AB", case.wall.sides, strict=True):
        if reached is not None:
            left = max(0.0, float(stays[own[name]].max(initial=0.0)))
            found[name] = {"gouge": _gouge(reached), "left": rounded(left)}
    step = steps_between(case)
    known = np.isfinite(step)
    found["mismatch"] = rounded(float(np.abs(step[known]).max())) if known.any() else None
    return found


def _gouge(reached: Reached) -> float | None:
    """Return how far a side went past a wall at most."""
    error = reached.error[np.isfinite(reached.error)]
    return rounded(max(0.0, -float(error.min(initial=0.0))))


def _tab(bridge: Bridge) -> dict[str, Any]:
    low, high = (bridge.snapping(strength) for strength in BEND_STRENGTH)
    neck = bridge.neck
    necked = {} if neck is None else {
        "neck": {
            "thickness": rounded(neck.thin), "width": rounded(neck.width, 3),
            "at_wall": rounded(neck.at_wall, 3), "stub_height": rounded(neck.foot),
        },
    }  # fmt: skip
    return {
        "station": rounded(bridge.station, 3),
        "place": place_of(bridge.place),
        "thickness": [rounded(bridge.thin), rounded(bridge.thick)],
        "top": rounded(bridge.top),
        "bottom": rounded(bridge.bottom),
        "waist": rounded(bridge.waist),
        "width_toward_a": rounded(bridge.wide, 3),
        "stub": rounded(bridge.stub, 3),
        "section_mm2": rounded(bridge.section),
        "snapping_n_mm": [rounded(low, 1), rounded(high, 1)],
        **necked,
    }


def _bore(opening: Opening) -> dict[str, Any]:
    bore = opening.bore
    row: dict[str, Any] = {
        "name": opening.name,
        "kind": opening.kind,
        "wanted": rounded(bore.diameter) if bore else None,
        "mismatch": rounded(apart(opening)),
    }
    for name, circle in zip("AB", opening.rounds, strict=True):
        row[f"diameter_{name.lower()}"] = rounded(circle.diameter) if circle else None
        row[f"off_{name.lower()}"] = rounded(np.hypot(circle.x, circle.y)) if circle else None
    if not opening.through:
        row["ground"] = place_of(opening.floor)
    return row


def _slot(opening: Opening, case: Case) -> dict[str, Any]:
    left = float(opening_left(opening, case).max(initial=-np.inf))
    return {
        "name": opening.name,
        "left": rounded(max(0.0, left)) if left > -np.inf else None,
        **{
            name: {"gouge": _gouge(reached)}
            for name, reached in zip("AB", opening.sides, strict=True)
            if reached is not None
        },
    }
