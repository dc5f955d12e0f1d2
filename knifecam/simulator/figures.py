"""The figures of a verdict that tell of bevels, lands, plunges, edge breaks and jimping.

Millimetres and degrees, plain numbers; what could not be measured is None.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import told
from knifecam.simulator.case import Case
from knifecam.simulator.judge.thin_edge import land_range
from knifecam.simulator.measure_bevel import Ground, Line, grind_line, symmetry
from knifecam.simulator.measure_break import Broken
from knifecam.simulator.measure_edge import Edge
from knifecam.simulator.measure_notch import Notch
from knifecam.simulator.measure_plunge import Risen

Floats = NDArray[np.float64]

Row = dict[str, Any]

PER = 0.01
"""mm: the error whose effect the sensitivity rows tell."""


def rounded(value: float | None, digits: int = 4) -> float | None:
    """Return a plain number, None for what is not finite."""
    return round(float(value), digits) + 0.0 if value is not None and np.isfinite(value) else None


def place_of(point: Any) -> list[float | None]:
    """Return a place as plain numbers."""
    return [rounded(v) for v in point]


def spread(values: Floats, digits: int = 4) -> Row | None:
    """Return least, mean and greatest of measures; None where there are none."""
    if not len(values):
        return None
    return {
        "least": rounded(values.min(), digits),
        "mean": rounded(values.mean(), digits),
        "most": rounded(values.max(), digits),
    }


def detail_figures(case: Case) -> Row:
    """Return all these figures of a case, by the names of a verdict."""
    return {
        "bevels": [_bevel(case, k) for k in range(len(case.order.blade.bevels))],
        "plunges": [_plunge(risen) for risen in case.plunges],
        "tip": _tip(case),
        "flats": _flats(case),
        "edge_breaks": [_broken(one) for one in case.breaks],
        "jimping": _jimping(case),
        "webs": [
            {"between": [w.one, w.other], "least": rounded(w.width), "place": place_of(w.place)}
            for w in case.webs
        ],
    }


def _bevel(case: Case, index: int) -> Row:
    bevel = case.order.blade.bevels[index]
    grounds = [g for g in case.grounds if g.index == index]
    edge = next((e for e in case.edges if e.index == index), None)
    return {
        "name": bevel.name,
        "angle_deg": rounded(np.degrees(bevel.angle), 5),
        "sides": {ground.side: _ground(case, ground) for ground in grounds},
        "symmetry": rounded(symmetry(case.order, case.grounds, index), 5),
        "land": _land(case, edge) if edge is not None else None,
        "sensitivity": [_sensitivity(ground) for ground in grounds],
    }


def _ground(case: Case, ground: Ground) -> Row:
    if not ground.lines:
        return {"lines": 0}
    surface = _surface(case, ground)
    angles = np.degrees(ground.angles)
    off = np.degrees(np.abs(ground.angles - ground.bevel.angle)).max()
    return {
        "lines": len(ground.lines),
        "angle_deg": spread(angles, 5),
        "angle_off_deg": rounded(off, 5),
        "rms": rounded(np.sqrt(np.mean(ground.off**2)), 5),
        "most_left": _worst(ground, high=True),
        "most_gouged": _worst(ground, high=False),
        "cusp": _cusp(ground),
        "grind_line": spread(grind_line(case.order, ground)),
        "grind_line_wanted": rounded(ground.width),
        "cells": surface,
    }


def _worst(ground: Ground, *, high: bool) -> Row:
    """Return the greatest metal left, or the deepest gouge, of all lines and where it is."""
    sign = 1.0 if high else -1.0
    line = max(ground.lines, key=lambda one: float((sign * one.off).max()))
    k = int(np.argmax(sign * line.off))
    amount = max(0.0, float(sign * line.off[k]))
    return {"amount": rounded(amount, 5), "place": place_of(line.places.points[k])}


def _cusp(ground: Ground) -> Row | None:
    """Return the highest cusp between two passes of one cutter, and what their step predicts."""
    rows = [(line, k) for line in ground.lines for k in _full(line)]
    if not rows:
        return None
    line, k = max(rows, key=lambda row: float(row[0].cusps[row[1]]))
    apart = [float(one.cusps[i] - one.predicted[i]) for one, i in rows]
    return {
        "highest": rounded(line.cusps[k], 5),
        "predicted": rounded(line.predicted[k], 5),
        "step": rounded(line.steps[k], 4),
        "most_above_prediction": rounded(max(apart), 5),
        "most_below_prediction": rounded(-min(apart), 5),
        "passes": int(np.median([len(one.touch) for one in ground.lines])),
    }


def _full(line: Line) -> range:
    """Return the gaps of a line whose both passes touched within it."""
    return range(1, len(line.cusps) - 1)


def _surface(case: Case, ground: Ground) -> Row | None:
    """Return what the cells of the grid say of a bevel, along Z."""
    surface = case.surfaces["AB".index(ground.side)]
    if surface is None:
        return None
    off = surface.deviation[surface.places.bevel == ground.index]
    if not len(off):
        return None
    return {
        "count": len(off),
        "rms": rounded(np.sqrt(np.mean(off**2)), 5),
        "most_left": rounded(off.max(), 5),
        "most_gouged": rounded(max(0.0, -off.min()), 5),
    }


def _land(case: Case, edge: Edge) -> Row:
    """Return a land's figures; how far it is off is told of where its own bevel makes it."""
    off = (edge.land - edge.wanted)[edge.own]
    k = int(np.argmin(edge.land))
    return {
        "wanted": spread(edge.wanted),
        "measured": spread(edge.land),
        "most_off": rounded(np.abs(off).max(initial=0.0), 5),
        "thinnest_at": place_of(edge.points[k]),
        "disturbed": {
            told(name): [rounded(low), rounded(high)]
            for name, (low, high) in land_range(case, edge).items()
        },
    }


def _sensitivity(ground: Ground) -> Row:
    """Return what 0.01 mm of Z, of cutter diameter and of wear do to grind line and land, mm.

    A tip lower by e moves the grind line e / tan a up the blade and takes e off the land; a cutter
    thicker by e cuts e / 2 further, so e / 2 and e / 2 tan a; a cutter whose surface has worn by e
    leaves e / cos a more along Z. Positive: the grind line moves up, the land grows.
    """
    tan, sine, cosine = (float(f(ground.bevel.angle)) for f in (np.tan, np.sin, np.cos))
    return {
        "side": ground.side,
        "per": PER,
        "z_lower": {"grind_line": rounded(PER / tan), "land": -PER},
        "cutter_thicker": {"grind_line": rounded(PER / 2), "land": rounded(-PER / 2 * tan, 5)},
        "cutter_worn": {"grind_line": rounded(-PER / sine), "land": rounded(PER / cosine, 5)},
    }


def _plunge(risen: Risen) -> Row:
    off = risen.off
    return {
        "bevel": risen.bevel.name,
        "number": risen.number,
        "side": risen.side,
        "radius_wanted": rounded(risen.wanted),
        "radius": spread(risen.radii),
        "past_its_line": spread(risen.shifts),
        "most_left": rounded(off.max(initial=0.0), 5),
        "most_gouged": rounded(max(0.0, -off.min(initial=0.0)), 5),
    }


def _tip(case: Case) -> Row | None:
    tip = case.tip
    if tip is None:
        return None
    return {
        "place": place_of(tip.place),
        "thickness": [
            {"behind": behind, "measured": rounded(found), "wanted": rounded(wanted)}
            for behind, found, wanted in tip.rows
        ],
    }


def _flats(case: Case) -> Row:
    """Return the deepest cut into the blade's flats, mm, by side."""
    return {
        side.name: rounded(side.swept.gouge.max(initial=0.0), 5)
        for side in case.given()
        if side.swept is not None
    }


def _broken(one: Broken) -> Row:
    cut = one.within & (one.widths > 0.0)
    return {
        "name": one.one.name,
        "of": one.one.of,
        "side": one.one.side,
        "wanted": rounded(one.one.width),
        "width": spread(one.widths[cut]),
        "angle_deg": spread(np.degrees(one.angles[cut]), 3),
        "places": int(np.count_nonzero(one.within)),
        "not_broken": int(np.count_nonzero(one.within & (one.widths <= 0.0))),
    }


def _jimping(case: Case) -> list[Row]:
    return [
        _row(case, row.name, [n for n in case.notches if n.row == row])
        for row in case.order.blade.jimping
    ]


def _row(case: Case, name: str, notches: list[Notch]) -> Row:
    depths = np.array([n.depth for n in notches if n.depth is not None])
    sizes = np.array([n.diameter for n in notches if n.diameter is not None])
    axes = np.array([n.axis for n in notches if n.axis is not None]).reshape(-1, 2)
    between = np.hypot(*np.diff(axes, axis=0).T) if len(axes) > 1 else np.zeros(0)
    return {
        "name": name,
        "notches": len(notches),
        "wanted_depth": rounded(notches[0].row.depth) if notches else None,
        "depth": spread(depths),
        "diameter": spread(sizes),
        "wanted_pitch": rounded(notches[0].row.pitch) if notches else None,
        "axes_apart": spread(between),
    }
