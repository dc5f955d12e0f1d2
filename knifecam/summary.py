"""What was made, in lines for the screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from knifecam.assumed import assumed_lines
from knifecam.making import Made
from knifecam.measure_lines import measure_lines
from knifecam.planning import Plan
from knifecam.planning.notes import cutters_needed, edges_used, kept_from_a
from knifecam.quantity import bare, mm, told
from knifecam.shop import Order
from knifecam.shop.unstated import unstated
from knifecam.simulator.origin import Origin
from knifecam.simulator.verdict import Verdict

BENCH = (
    f"at the bench: walls {bare(0.01)}-{mm(0.03)}, tabs {mm(0.03)}, flip {bare(0.02)}-{mm(0.04)}"
    " (common practice)"
)


def summary(
    made: Made, folder: Path, *, written: Sequence[str] = (), assumed: bool = False
) -> Iterator[str]:
    """Yield what a maker wants to know: assumptions, tabs, walls, load, time, verdict and files.

    ``written`` are the names of the files in ``folder``; ``assumed``: every assumption on its own line.
    """
    order, verdict = made.order, made.verdict
    yield f"{order.name} (order {order.digest or 'built by hand'})"
    yield from assumed_lines(order.assumed, whole=assumed)
    yield outline_line(order)
    for side in "AB":
        cuts = made.plan.side(side)
        yield f"side {side}: {len(cuts)} cuts, about {sum(c.minutes for c in cuts):.0f} min in contact"
    yield from cutter_lines(order, made.plan)
    yield from measure_lines(verdict.measures, order.units)
    yield from note_lines(made.notes)
    yield from finding_lines(verdict, order)
    yield told(BENCH, order.units)
    yield from file_lines(folder, written, proved=verdict.ok)


def file_lines(folder: Path, written: Sequence[str], *, proved: bool) -> Iterator[str]:
    """Yield the files that were written, by name in their folder."""
    kinds = {
        "programs": [name for name in written if name.endswith(".ngc")],
        "verdict": [name for name in written if name.endswith(".json")],
        "pictures": [name for name in written if name.endswith(".png")],
    }
    if not proved:
        yield "programs: not written under their names, since they are not proved"
    for kind, names in kinds.items():
        if names:
            yield f"{kind + ':':9} {', '.join(str(folder / name) for name in names)}"


def outline_line(order: Order) -> str:
    """Return the outline's size, and the layers of the drawing that it was taken from."""
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    names = " and ".join(f"'{name}'" for name in order.outline_layers)
    taken = f", from layer{'s' if len(order.outline_layers) > 1 else ''} {names}" if names else ""
    size = f"{bare(high_x - low_x):.2f} x {mm(high_y - low_y):.2f}"
    return f"outline: {told(size, order.units)}{taken}"


def cutter_lines(order: Order, plan: Plan) -> Iterator[str]:
    """Yield how many cutters of each number the job takes, for how long, and what it leaves alone."""
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
    unused = _unused(order, plan)
    if unused:
        yield f"not used: {'; '.join(unused)}"


def _unused(order: Order, plan: Plan) -> list[str]:
    """Return the cutters and the stages of cutters that no cut of the plan is made with."""
    at_work = {(cut.cutter, cut.stage) for cut in plan.cuts}
    working = {number for number, _ in at_work}
    idle = [str(c.number) for c in order.cutters if c.number not in working]
    numbers = [f"cutter{'s' if len(idle) > 1 else ''} {' and '.join(idle)}"] if idle else []
    return numbers + [
        f'cutter {c.cutter} in stage "{c.stage}"'
        for c in order.cutting
        if c.cutter in working and (c.cutter, c.stage) not in at_work
    ]


def note_lines(notes: Sequence[str]) -> Iterator[str]:
    """Yield what must not be overlooked, each set off."""
    for note in notes:
        yield f"NOTE: {note}"


def origin_lines(origin: Origin) -> Iterator[str]:
    """Yield first of all whose programs these are."""
    if origin.fits:
        yield f"ORDER {origin.order}: the programs were written for it"
    for side, digest in origin.programs:
        if (side, digest) in origin.strangers:
            yield (
                f"ANOTHER ORDER: side {side}'s program was written for order {digest}, this is order"
                f" {origin.order}; what follows compares one with the other"
            )
        elif not digest:
            yield f"side {side}'s program does not say which order it was written for"
        elif not origin.order:
            yield (
                f"side {side}'s program was written for order {digest}; this one is built by hand and"
                " has no number"
            )


def finding_lines(verdict: Verdict, order: Order) -> Iterator[str]:
    """Yield the verdict, and its findings one line each with the values they rest on."""
    unseen = " and ".join(verdict.unseen)
    if not verdict.findings:
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
