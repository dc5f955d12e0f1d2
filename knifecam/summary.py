"""What was made, in lines for the screen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from knifecam.assumed import assumed_lines
from knifecam.making import Made
from knifecam.planning import Plan
from knifecam.planning.notes import cutters_needed, edges_used, kept_from_a
from knifecam.shop import Order
from knifecam.shop.unstated import unstated
from knifecam.simulator.verdict import Verdict

LEAST_CUTTER = 0.5
"""mm: no thinner cutter is proposed for hard plate (common practice)."""

BENCH = "at the bench: walls 0.01-0.03 mm, tabs 0.03 mm, flip 0.02-0.04 mm (common practice)"


def summary(made: Made, folder: Path, *, assumed: bool = False) -> Iterator[str]:
    """Yield what a maker wants to know: assumptions, tabs, walls, load, time, verdict and files.

    ``assumed``: every assumption on its own line.
    """
    order, verdict = made.order, made.verdict
    yield f"{order.name} (order {order.digest or 'built by hand'})"
    yield from assumed_lines(order.assumed, whole=assumed)
    for side in "AB":
        cuts = made.plan.side(side)
        yield f"side {side}: {len(cuts)} cuts, about {sum(c.minutes for c in cuts):.0f} min in contact"
    yield from cutter_lines(made.plan)
    yield from measure_lines(verdict.measures)
    yield from note_lines(made.notes)
    yield from finding_lines(verdict, order)
    yield BENCH
    if verdict.ok:
        yield f"programs: {folder / 'side-a.ngc'}, {folder / 'side-b.ngc'}, {folder / 'align-b.ngc'}"
    else:
        yield "programs: not written under their names, since they are not proved"
    yield f"verdict:  {folder / 'verdict.json'}"
    yield f"picture:  {folder / 'plate.png'}"


def cutter_lines(plan: Plan) -> Iterator[str]:
    """Yield how many cutters of each number the job takes, and for how long."""
    for number in dict.fromkeys(cut.cutter for cut in plan.cuts):
        minutes = sum(cut.minutes for cut in plan.cuts if cut.cutter == number)
        sides = ", ".join(
            f"side {side} {count}" for side in "AB" if (count := edges_used(plan, number, side))
        )
        kept = "; side B begins with side A's" if kept_from_a(plan, number) else ""
        yield (
            f"cutter {number}: {cutters_needed(plan, number)} needed ({sides}{kept}), about"
            f" {minutes:.0f} min in contact"
        )


def note_lines(notes: Sequence[str]) -> Iterator[str]:
    """Yield what must not be overlooked, each set off."""
    for note in notes:
        yield f"NOTE: {note}"


def finding_lines(verdict: Verdict, order: Order) -> Iterator[str]:
    """Yield the verdict, and its findings one line each with the values they rest on."""
    unseen = " and ".join(side for side in "AB" if side not in verdict.measures.get("sides", {}))
    if verdict.ok:
        yield _proved(unseen)
        return
    also = f", and side {unseen} was not seen" if unseen else ""
    many = len(verdict.findings)
    yield f"NOT PROVED: {many} finding{'s' if many > 1 else ''}{also}"
    numbers = [c.number for c in order.cutters]
    for one in verdict.findings:
        where = f" side {one.side}, line {one.line}" if one.line else f" side {one.side}"
        yield f"  {one.kind}{where}: {one.message}"
        if one.remedy:
            yield f"      {one.remedy}"
        for line in unstated(order.assumed, numbers, one.message, one.kind):
            yield f"      the order does not state {line}"


def _proved(unseen: str) -> str:
    if not unseen:
        return "PROVED: nothing found in the programs' text"
    seen = "B" if unseen == "A" else "A"
    return (
        f"PROVED AS FAR AS SIDE {seen} GOES: side {unseen} was not seen, so neither it nor tabs,"
        " meeting of the sides and openings from the other side are proved"
    )


def uncut_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the inner corners that stay uncut because no finishing cutter reaches into them."""
    for number, one in enumerate(measures.get("unreachable", ()), start=1):
        x, y = one["place"][:2]
        left, fits = one["left"], one["largest_cutter"]
        stays = "metal stays" if left is None else f"{left:.3f} mm of metal stays"
        remedy = f"a cutter of {fits:.2f} mm or less reaches it" if fits >= LEAST_CUTTER else (
            "it is sharp, so file it or draw it with a radius"
        )  # fmt: skip
        yield (
            f"UNCUT CORNER C{number} of {one['of']} at ({x:.2f}, {y:.2f}): {stays}, for cutters of"
            f" {2 * one['cutter_radius']:.3f} mm; {remedy}"
        )


def shown(value: float | None, digits: int) -> str:
    """Return a measure as text; "unknown" where there is none."""
    return "unknown" if value is None else f"{value:.{digits}f}"


def _tens(value: float | None) -> str:
    """Return a moment in N mm to the tens: no bend strength is known more closely."""
    return "unknown" if value is None else f"{round(value, -1):.0f}"


def _section(tab: Mapping[str, Any]) -> str:
    """Return where a tab snaps, and what is left there."""
    if "neck" in tab:
        return f"at its neck of {shown(tab['neck']['thickness'], 3)} mm"
    return f"{shown(tab['section_mm2'], 2)} mm2 midway"


def measure_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the measures a maker acts on."""
    for count, tab in enumerate(measures.get("tabs", ()), start=1):
        low, high = tab["snapping_n_mm"]
        yield (
            f"tab {count} at station {shown(tab['station'], 1)}: {shown(tab['thickness'][0], 3)} mm"
            f" thick, waist {shown(tab['waist'], 3)}, stub {shown(tab['stub'], 2)} mm, snaps at about"
            f" {_tens(low)}-{_tens(high)} N mm ({_section(tab)}, as cut)"
        )
    for case, values in measures.get("disturbed_tabs", {}).items():
        if values and case != "as ordered":
            seen = [v for v in values if v is not None] or [None]
            yield f"  tabs {case}: {shown(min(seen), 3)}-{shown(max(seen), 3)} mm"
    walls = measures.get("outline", {})
    for side in "AB":
        if side in walls:
            deep, left = walls[side]["gouge"], walls[side]["left"]
            yield (
                f"wall of side {side}: {shown(deep, 4)} mm too deep, {shown(left, 4)} mm left, at worst"
            )
    if walls.get("mismatch") is not None:
        yield f"the two sides disagree by {walls['mismatch'] * 1000:.2f} um (perfect flip)"
    yield from _bevel_lines(measures)
    for bore in measures.get("bores", ()):
        seen = bore.get("diameter_a") or bore.get("diameter_b")
        if seen:
            yield f"bore {bore['name']}: {shown(seen, 4)} mm for {shown(bore['wanted'], 4)}"
    yield from uncut_lines(measures)
    for side, figures in measures.get("sides", {}).items():
        hardest = figures.get("hardest")
        if hardest:
            yield (
                f"side {side}: line {hardest['line']} loads the cutter most,"
                f" {hardest['rate']:.0f} mm3/min; {figures['minutes']:.0f} min at the mill"
            )


def _bevel_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what was measured of bevels: angle, cusps and gouge by side, land, symmetry."""
    for bevel in measures.get("bevels", ()):
        for side, figures in bevel["sides"].items():
            if not figures.get("lines"):
                continue
            cusp, angle = figures["cusp"] or {}, figures["angle_deg"]
            yield (
                f"bevel {bevel['name']}, side {side}: {shown(angle['mean'], 4)} degrees for"
                f" {shown(bevel['angle_deg'], 4)}, cusps {um(cusp.get('highest'))} um for"
                f" {um(cusp.get('predicted'))}, gouge {um(figures['most_gouged']['amount'])} um"
            )
        land = bevel["land"]
        if land:
            low, high = land["measured"]["least"], land["measured"]["most"]
            alike = ""
            if bevel["symmetry"] is not None:
                alike = f"; the sides mirror each other within {um(bevel['symmetry'])} um"
            yield (
                f"land of bevel {bevel['name']}: {shown(low, 4)} to {shown(high, 4)} mm for"
                f" {shown(land['wanted']['mean'], 3)}{alike}"
            )


def um(value: float | None) -> str:
    """Return a measure of mm as um; "unknown" where there is none."""
    return shown(None if value is None else 1000 * value, 2)
