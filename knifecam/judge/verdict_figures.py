"""The figures of a verdict, among them the heaviest cut and the loads of single lines.

Millimetres and degrees, plain numbers; what could not be measured is None.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.cutting import Engagement
from knifecam.judge.bevel_findings import land_range
from knifecam.judge.cutter_loads import (
    CutterLoads,
    MetMetal,
    edge_steepness,
    heaviest_loads,
    met_metal,
    motion_loads,
)
from knifecam.judge.judge_limits import (
    BEND_STRENGTH_N_MM2,
    FULL_SLOT_RAD,
    LONG_ENOUGH_MM,
    SENSITIVITY_STEP_MM,
)
from knifecam.judge.milling_direction import finishing_length
from knifecam.judge.minutes import minute_figures
from knifecam.judge.seating import apart, steps_between
from knifecam.judge.spindle_and_feeds import contact_minutes
from knifecam.judge.uncut_metal import opening_left, unreachable_stretches, wall_left
from knifecam.judge.worst_case import tab_thickness
from knifecam.measure.case import Case
from knifecam.measure.measured_bevel import (
    BevelLine,
    MeasuredBevel,
    MeasuredPlunge,
    grind_line,
    side_symmetry,
)
from knifecam.measure.measured_edge import MeasuredEdge, MeasuredEdgeBreak
from knifecam.measure.measured_openings import MeasuredNotch, MeasuredOpening
from knifecam.measure.measured_tabs import MeasuredTab
from knifecam.measure.measured_wall import SideWall
from knifecam.quantity import mm, mm3, told
from knifecam.rs274.restart_points import cut_starts
from knifecam.shop import Order
from knifecam.sweep.contact_record import motion_feed_per_tooth, unbroken_contact
from knifecam.sweep.run_time import Duration, duration_of
from knifecam.sweep.side_program import SideProgram, bounds

Floats = NDArray[np.float64]


Row = dict[str, Any]


def rounded(value: float | None, digits: int = 4) -> float | None:
    """Return a plain number, None for what is not finite."""
    return round(float(value), digits) + 0.0 if value is not None and np.isfinite(value) else None


def rounded_point(point: Any) -> list[float | None]:
    """Return a place as plain numbers."""
    return [rounded(v) for v in point]


def least_mean_most(values: Floats, digits: int = 4) -> Row | None:
    """Return least, mean and greatest of measures; None where there are none."""
    if not len(values):
        return None
    return {
        "least": rounded(values.min(), digits),
        "mean": rounded(values.mean(), digits),
        "most": rounded(values.max(), digits),
    }


def shape_figures(case: Case) -> Row:
    """Return all these figures of a case, by the names of a verdict."""
    return {
        "bevels": [_bevel(case, k) for k in range(len(case.order.blade.bevels))],
        "plunges": [_plunge(risen) for risen in case.plunges],
        "tip": _tip(case),
        "flats": _flats(case),
        "edge_breaks": [_broken(one) for one in case.breaks],
        "jimping": _jimping(case),
        "webs": [
            {
                "between": [w.one, w.other],
                "least": rounded(w.width),
                "place": rounded_point(w.place),
            }
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
        "symmetry": rounded(side_symmetry(case.order, case.grounds, index), 5),
        "land": _land(case, edge) if edge is not None else None,
        "sensitivity": [_sensitivity(ground) for ground in grounds],
    }


def _ground(case: Case, ground: MeasuredBevel) -> Row:
    if not ground.lines:
        return {"lines": 0}
    surface = _surface(case, ground)
    angles = np.degrees(ground.angles)
    off = np.degrees(np.abs(ground.angles - ground.bevel.angle)).max()
    return {
        "lines": len(ground.lines),
        "angle_deg": least_mean_most(angles, 5),
        "angle_off_deg": rounded(off, 5),
        "rms": rounded(np.sqrt(np.mean(ground.off**2)), 5),
        "most_left": _worst(ground, high=True),
        "most_gouged": _worst(ground, high=False),
        "cusp": _cusp(ground),
        "grind_line": least_mean_most(grind_line(case.order, ground)),
        "grind_line_wanted": rounded(ground.width),
        "cells": surface,
    }


def _worst(ground: MeasuredBevel, *, high: bool) -> Row:
    """Return the greatest metal left, or the deepest gouge, of all lines and where it is."""
    sign = 1.0 if high else -1.0
    line = max(ground.lines, key=lambda one: float((sign * one.off).max()))
    k = int(np.argmax(sign * line.off))
    amount = max(0.0, float(sign * line.off[k]))
    return {"amount": rounded(amount, 5), "place": rounded_point(line.places.points[k])}


def _cusp(ground: MeasuredBevel) -> Row | None:
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


def _full(line: BevelLine) -> range:
    """Return the gaps of a line whose both passes touched within it."""
    return range(1, len(line.cusps) - 1)


def _surface(case: Case, ground: MeasuredBevel) -> Row | None:
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


def _land(case: Case, edge: MeasuredEdge) -> Row:
    """Return a land's figures; how far it is off is told of where its own bevel makes it."""
    off = (edge.land - edge.wanted)[edge.own]
    k = int(np.argmin(edge.land))
    return {
        "wanted": least_mean_most(edge.wanted),
        "measured": least_mean_most(edge.land),
        "most_off": rounded(np.abs(off).max(initial=0.0), 5),
        "thinnest_at": rounded_point(edge.points[k]),
        "disturbed": {
            told(name): [rounded(low), rounded(high)]
            for name, (low, high) in land_range(case, edge).items()
        },
    }


def _sensitivity(ground: MeasuredBevel) -> Row:
    """Return what 0.01 mm of Z, of cutter diameter and of wear do to grind line and land, mm.

    A tip lower by e moves the grind line e / tan a up the blade and takes e off the land; a cutter
    thicker by e cuts e / 2 further, so e / 2 and e / 2 tan a; a cutter whose surface has worn by e
    leaves e / cos a more along Z. Positive: the grind line moves up, the land grows.
    """
    tan, sine, cosine = (float(f(ground.bevel.angle)) for f in (np.tan, np.sin, np.cos))
    return {
        "side": ground.side,
        "per": SENSITIVITY_STEP_MM,
        "z_lower": {"grind_line": rounded(SENSITIVITY_STEP_MM / tan), "land": -SENSITIVITY_STEP_MM},
        "cutter_thicker": {
            "grind_line": rounded(SENSITIVITY_STEP_MM / 2),
            "land": rounded(-SENSITIVITY_STEP_MM / 2 * tan, 5),
        },
        "cutter_worn": {
            "grind_line": rounded(-SENSITIVITY_STEP_MM / sine),
            "land": rounded(SENSITIVITY_STEP_MM / cosine, 5),
        },
    }


def _plunge(risen: MeasuredPlunge) -> Row:
    off = risen.off
    return {
        "bevel": risen.bevel.name,
        "number": risen.number,
        "side": risen.side,
        "radius_wanted": rounded(risen.wanted),
        "radius": least_mean_most(risen.radii),
        "past_its_line": least_mean_most(risen.shifts),
        "most_left": rounded(off.max(initial=0.0), 5),
        "most_gouged": rounded(max(0.0, -off.min(initial=0.0)), 5),
    }


def _tip(case: Case) -> Row | None:
    tip = case.tip
    if tip is None:
        return None
    return {
        "place": rounded_point(tip.place),
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


def _broken(one: MeasuredEdgeBreak) -> Row:
    cut = one.within & (one.widths > 0.0)
    return {
        "name": one.one.name,
        "of": one.one.of,
        "side": one.one.side,
        "wanted": rounded(one.one.width),
        "width": least_mean_most(one.widths[cut]),
        "angle_deg": least_mean_most(np.degrees(one.angles[cut]), 3),
        "places": int(np.count_nonzero(one.within)),
        "not_broken": int(np.count_nonzero(one.within & (one.widths <= 0.0))),
    }


def _jimping(case: Case) -> list[Row]:
    return [
        _row(case, row.name, [n for n in case.notches if n.row == row])
        for row in case.order.blade.jimping
    ]


def _row(case: Case, name: str, notches: list[MeasuredNotch]) -> Row:
    depths = np.array([n.depth for n in notches if n.depth is not None])
    sizes = np.array([n.diameter for n in notches if n.diameter is not None])
    axes = np.array([n.axis for n in notches if n.axis is not None]).reshape(-1, 2)
    between = np.hypot(*np.diff(axes, axis=0).T) if len(axes) > 1 else np.zeros(0)
    return {
        "name": name,
        "notches": len(notches),
        "wanted_depth": rounded(notches[0].row.depth) if notches else None,
        "depth": least_mean_most(depths),
        "diameter": least_mean_most(sizes),
        "wanted_pitch": rounded(notches[0].row.pitch) if notches else None,
        "axes_apart": least_mean_most(between),
    }


def heaviest_cut(side: SideProgram, case: Case, metal: MetMetal | None) -> Row:
    """Return the line that removes metal at the greatest rate (mm3/min), and what its teeth meet.

    ``section`` (mm2) is what it takes for each mm of its way. Depths and angle as the sweep of the
    grid saw them, at their greatest on that line, be it of a thin web ahead and a low strip beside:
    the angle within a degree (rms) at cells of 0.05 mm. The chip is square to the edge where the
    metal's top lies on level ground. Force and bending are of ``metal``, the side's
    (`knifecam.judge.cutter_loads.met_metal`); None where it was not swept.
    """
    lengths = side.motions.lengths
    fit = side.contact & ~side.rapid & (lengths >= LONG_ENOUGH_MM)
    if not fit.any():
        return {"line": 0, "rate": 0.0}
    rate = np.where(fit, side.volume * side.motions.feed / np.maximum(lengths, LONG_ENOUGH_MM), 0.0)
    k = int(np.argmax(rate))
    found = {"line": int(side.trace.line[k]), "rate": rounded(rate[k], 2)}
    if side.swept is None or metal is None:
        return found
    loads = motion_loads(side, case, metal, k)
    return found | _met_on(side, case.order, k) | {
        "force": rounded(loads.across.max(initial=0.0), 1) if len(loads.across) else None,
        "deflection": rounded(loads.deflection.max()) if len(loads.across) else None,
    }  # fmt: skip


def _met_on(side: SideProgram, order: Order, motion: int) -> dict[str, Any]:
    record = side.steps.engagement
    rows = np.flatnonzero((record.motion == motion) & (record.volume > 0.0))
    widest = rows[np.argmax(record.width[rows])]
    radius, angle = float(side.cutter_radius[motion]), float(record.width[widest])
    if angle > FULL_SLOT_RAD and record.both_walls[widest]:
        angle = np.pi
    depth = float(record.under[rows].max())
    tooth = float(motion_feed_per_tooth(side, order.cutters)[motion])
    upright = angle > 0.0 and not side.steps.heading[widest].any()
    beside = record.left[widest] > 0.0 or record.right[widest] > 0.0
    share = float(np.sin(min(angle, np.pi / 2))) if beside else 1.0  # nothing left or right: ahead
    steep = float(edge_steepness(side, np.array([motion]), np.array([depth]))[0])
    fall = max(0.0, float(side.steps.fall[widest]))
    end = np.sqrt(1.0 - steep**2) * np.sin(fall)
    across = radius * (1.0 - np.cos(angle)) if angle < np.pi else 2.0 * radius
    return {
        "section": rounded(side.volume[motion] / side.motions.lengths[motion]),
        "radial": rounded(across, 3),
        "axial": rounded(depth),
        "angle_deg": rounded(np.degrees(angle), 1),
        "feed_per_tooth": rounded(tooth),
        "chip": rounded(tooth * (1.0 if upright else share * steep * np.cos(fall) + end)),
        "unbroken_contact_s": rounded(unbroken_contact(side)[rows].max(), 1),
    }


def line_loads(side: SideProgram, record: Engagement) -> dict[int, str]:
    """Return what the cutter met on each line of the program that took metal, in words.

    ``record`` is the whole one (`knifecam.sweep.contact_record.engagement_of`); the figures are the
    greatest of the line's steps, entry and exit those of the step met widest across.
    """
    taken = np.flatnonzero((record.volume > 0.0) | (np.nan_to_num(record.met) > 0.0))
    lines = np.asarray(side.trace.line)[record.motion[taken]]
    edges = np.flatnonzero(np.diff(lines, prepend=-1))
    return {
        int(lines[begin]): _words(record, rows)
        for begin, rows in zip(edges, np.split(taken, edges[1:]), strict=True)
    }


def _words(record: Engagement, rows: NDArray[np.int64]) -> str:
    volume = f"takes {mm3(float(record.volume[rows].sum())):.3f}"
    seen = rows[np.nan_to_num(record.met[rows]) > 0.0]
    if not len(seen):
        return volume
    k = seen[np.argmax(record.radial[seen])]
    both = ", both walls" if bool(record.both_walls[k]) else ""
    chip = float(record.chip[seen].max())
    thick = "chip not known, since the spindle stands" if np.isnan(chip) else f"chip {mm(chip):.4f}"
    return (
        f"{volume}: axial {mm(float(record.axial[seen].max())):.3f}, radial"
        f" {mm(float(record.radial[k])):.3f}{both}, teeth in metal from"
        f" {np.degrees(record.entry[k]):.1f} to {np.degrees(record.exit[k]):.1f} degrees, {thick};"
        f" {float(record.unbroken[seen].max()):.1f} s of unbroken contact"
    )


MINUTES_RULE = (
    "trapezoids of speed with the mill's acceleration, slowed at corners, on exact path; "
    "cutter changes 2 min by hand, else 10 s, hand stops 1 min; contact at the programmed feed"
)


def measures(case: Case) -> dict[str, Any]:
    """Return all measures of a case."""
    border, place = case.least_border
    spans = {side.name: duration_of(side.trace, case.order.setup.mill) for side in case.given()}
    return {
        "cell": case.grid.cell,
        "minutes_are": MINUTES_RULE,
        "sides": {side.name: _side(side, case, spans[side.name]) for side in case.given()},
        **minute_figures(tuple(case.given()), spans, case.order),
        "outline": _outline(case),
        "tabs": [_tab(bridge) for bridge in case.bridges],
        "bores": [_bore(o) for o in case.openings if o.kind != "slot"],
        "slots": [_slot(o, case) for o in case.openings if o.kind == "slot"],
        "border": {"least": rounded(border), "place": rounded_point(place)},
        "worst_case_tabs": {
            told(name): [rounded(t) for t in rows] for name, rows in tab_thickness(case).items()
        },
        "registration_residuals": {
            name: rounded(left) for side in case.given() for name, left in side.frame.residuals
        },
        "unreachable": unreachable_stretches(case),
        "pieces": len(case.pieces),
        **shape_figures(case),
    }


def _side(side: SideProgram, case: Case, spans: Duration) -> dict[str, Any]:
    low, high = bounds(side)
    moving = spans.moving / 60.0
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    spent = contact_minutes(side)
    metal = None if side.swept is None else met_metal(side, case)
    cuts = _cuts(side, spans, case, metal)
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
        "heaviest_cut": heaviest_cut(side, case, metal),
        "greatest_force": _greatest_force(cuts),
        "cuts": cuts,
    }


def _cuts(
    side: SideProgram, spans: Duration, case: Case, metal: MetMetal | None
) -> list[dict[str, Any]]:
    starts = cut_starts(side.text)
    begin = np.searchsorted(side.trace.line, starts)
    end = np.append(begin[1:], len(side))
    spent = np.where(side.contact, side.minutes, 0.0)
    loads: list[Row | None] = [None] * len(starts)
    if metal is not None and len(starts):
        found, cut = heaviest_loads(side, case, metal, begin)
        loads = [_cut_loads(side, found, np.flatnonzero(cut == k)) for k in range(len(starts))]
    return [
        {
            "line": line,
            "name": side.text_line(line).strip("() "),
            "volume": rounded(float(side.volume[low:high].sum()), 3),
            "minutes": rounded(spans.between(int(low), int(high)) / 60.0, 3),
            "contact_minutes": rounded(float(spent[low:high].sum()), 3),
            "loads": load,
        }
        for line, low, high, load in zip(starts, begin, end, loads, strict=False)
    ]


def _cut_loads(side: SideProgram, loads: CutterLoads, rows: NDArray[np.int64]) -> Row | None:
    """Return the greatest loads of a cut, each where it is the greatest; None where none is known."""
    if not len(rows):
        return None
    worst = rows[np.argmax(loads.across[rows])]
    motion = int(side.steps.motion[loads.metal.rows[worst]])

    def most(values: Floats, digits: int) -> float | None:
        return rounded(np.abs(values[rows]).max(), digits)

    return {
        "line": int(side.trace.line[motion]),
        "cutter": int(side.trace.cutter[motion]),
        "section": most(loads.metal.section, 4),
        "chip": most(loads.metal.chip, 4),
        "across": most(loads.across, 1),
        "along": most(loads.along, 1),
        "aside": most(loads.aside, 1),
        "lift": most(loads.lift, 1),
        "press": most(loads.press, 1),
        "torque_n_mm": most(loads.torque, 1),
        "bending_stress": most(loads.stress, 1),
        "deflection": most(loads.deflection, 4),
    }


_CUT_NAME = re.compile(r"CUT\s+\d+\s+OF\s+\d+\s*:\s*(.*?)(?:, CUTTER\b.*)?", re.IGNORECASE)


def _greatest_force(cuts: list[Row]) -> Row | None:
    """Return the cut with the greatest force across a cutter, and that line's loads."""
    known = [one for one in cuts if one["loads"] is not None]
    if not known:
        return None
    worst = max(known, key=lambda one: float(one["loads"]["across"] or 0.0))
    named = _CUT_NAME.fullmatch(worst["name"])
    loads = worst["loads"]
    return {"cut": named[1] if named else worst["name"]} | {
        name: loads[name] for name in ("line", "cutter", "across", "lift", "press", "deflection")
    }


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


def _gouge(reached: SideWall) -> float | None:
    """Return how far a side went past a wall at most."""
    error = reached.error[np.isfinite(reached.error)]
    return rounded(max(0.0, -float(error.min(initial=0.0))))


def _tab(bridge: MeasuredTab) -> dict[str, Any]:
    low, high = (bridge.snapping(strength) for strength in BEND_STRENGTH_N_MM2)
    neck = bridge.neck
    necked = {} if neck is None else {
        "neck": {
            "thickness": rounded(neck.thin), "width": rounded(neck.width, 3),
            "at_wall": rounded(neck.at_wall, 3), "stub_height": rounded(neck.foot),
        },
    }  # fmt: skip
    return {
        "station": rounded(bridge.station, 3),
        "place": rounded_point(bridge.place),
        "thickness": [rounded(bridge.thin), rounded(bridge.thick)],
        "top": rounded(bridge.top),
        "bottom": rounded(bridge.bottom),
        "waist": rounded(bridge.waist),
        "width_toward_a": rounded(bridge.wide, 3),
        "stub": rounded(bridge.stub, 3),
        "section_mm2": rounded(bridge.section),
        "breaking_n_mm": [rounded(low, 1), rounded(high, 1)],
        **necked,
    }


def _bore(opening: MeasuredOpening) -> dict[str, Any]:
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
        row["ground"] = rounded_point(opening.floor)
    return row


def _slot(opening: MeasuredOpening, case: Case) -> dict[str, Any]:
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
