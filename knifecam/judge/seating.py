"""Whether the plate can be laid down wrongly, what is left of it, and whether both sides meet."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bore
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, at_line, rounded_place
from knifecam.judge.judge_limits import LAST_DIGIT_MM, SAME_BORE_MM, SEATS_WITHIN_MM, WALL_STEP_MM
from knifecam.measure.case import Case
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.quantity import mm
from knifecam.sweep.side_frames import HALF_TURNS

Floats = NDArray[np.float64]


LAID_WAYS = {
    "not turned over": (1.0, 1.0),
    "not turned over, half a turn round": (-1.0, -1.0),
    "turned over about X": (1.0, -1.0),
    "turned over about Y": (-1.0, 1.0),
}


def find_seating(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind seating."""
    setup = case.order.setup
    if setup.registration.kind == "pins":
        yield from _pins(setup.registration.bores, setup.flip)
    side = case.sides[1]
    for name, left in side.frame.residuals if side is not None else ():
        if not left <= SEATS_WITHIN_MM:
            sentence = f"the fit of the measured bores leaves {mm(left):.3f} at {name}"
            yield at_line(
                Kind.SEATING, "B", 0, f"{sentence}; {mm(SEATS_WITHIN_MM):g} is allowed",
                "measure the bores again: one place is wrong", measured=left, allowed=SEATS_WITHIN_MM,
            )  # fmt: skip
    if setup.workholding.kind == "bores":
        known = {bore.name for bore in case.order.blade.bores if bore.depth is None}
        for name in setup.workholding.screws:
            if name not in known:
                sentence = f"screw {name!r} has no through bore of the blade to go into"
                yield at_line(
                    Kind.SEATING, "B", 0, sentence, "name bores that go through the blade"
                )


def _pins(bores: tuple[Bore, ...], flip: str) -> Iterator[Finding]:
    if len(bores) < 2:
        sentence = f"bores={len(bores)} seat the plate; it can turn about a single pin"
        yield at_line(Kind.SEATING, "B", 0, sentence, "use two pins or more, of unequal diameters")
        return
    fits = ways_it_seats(bores, flip)
    if len(fits) > 1:
        sentence = f"the pins take the plate in {len(fits)} ways: {'; '.join(fits)}"
        yield at_line(
            Kind.SEATING, "B", 0, sentence,
            "make the bores blind from side A and of unequal diameters, or set a third one aside",
            measured=float(len(fits)), allowed=1.0,
        )  # fmt: skip


def ways_it_seats(bores: tuple[Bore, ...], flip: str) -> list[str]:
    """Return the ways in which the plate goes over the pins of side B, of the four there are.

    The plate may be shifted as it likes. A bore that is blind from side A takes no pin unless
    side A lies on the fixture.
    """
    places = np.array([bore.centre for bore in bores])
    sizes = np.array([bore.diameter for bore in bores])
    pins = places * HALF_TURNS[flip][:2]
    blind = any(bore.depth is not None for bore in bores)
    fits = []
    for name, signs in LAID_WAYS.items():
        face_up = signs[0] * signs[1] > 0
        if not (face_up and blind) and _fits_over(places * signs, pins, sizes):
            fits.append(name)
    return fits


def _fits_over(places: Floats, pins: Floats, sizes: Floats) -> bool:
    """Whether bores at ``places`` go over ``pins`` of the same diameters after some shift."""
    for k in range(len(pins)):
        moved = places + (pins[k] - places[0])
        off = np.hypot(*(moved[:, None, :] - pins[None, :, :]).transpose(2, 0, 1))
        alike = np.abs(sizes[:, None] - sizes[None, :]) < SAME_BORE_MM
        taken = (off <= SEATS_WITHIN_MM) & alike
        if taken.any(axis=1).all() and taken.any(axis=0).all():
            return True
    return False


def find_plate_border(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind border."""
    width, place = case.least_border
    wanted = case.order.trench.border
    if not np.isfinite(width) or width >= wanted - LAST_DIGIT_MM:
        return
    sentence = (
        f"the plate's border is {mm(width):.2f} wide at its narrowest; {mm(wanted):g} is wanted"
    )
    given = [side.name for side in case.given()]
    yield Finding(
        kind=Kind.BORDER, side=given[0], line=0, message=sentence, place=rounded_place([*place, 0.0]),
        measured=width, allowed=wanted,
    )  # fmt: skip


def find_mismatch(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind mismatch."""
    if not case.whole:
        return
    yield from _outline(case)
    for opening in case.openings:
        yield from _axes(opening)


def steps_between(case: Case) -> np.ndarray:
    """Return by how much side B's wall stands out past side A's, (n,) mm; NaN where not judged."""
    upper, lower = case.wall.sides
    if upper is None or lower is None:
        return np.full(len(case.wall.stations), np.nan)
    a, b = upper.error[-1], lower.error[0]
    if not case.wall.there.all():
        a = _own(upper.error, case.wall.heights > case.wanted.floor_b, highest=True)
        b = _own(lower.error, case.wall.heights < case.wanted.tab_low, highest=False)
    fit = np.isfinite(a) & np.isfinite(b) & upper.reachable & lower.reachable
    return np.where(fit, np.where(fit, b, 0.0) - np.where(fit, a, 0.0), np.nan)


def _own(error: Floats, own: NDArray[np.bool_], *, highest: bool) -> Floats:
    """Return a side's error at the height nearest its face where there is a wall, (n,) mm.

    Only heights that no tab and no overlap touches count; inf where there is none.
    """
    rows = error[own][::-1] if highest else error[own]
    if not len(rows):
        return np.full(error.shape[1], np.inf)
    first = np.isfinite(rows).argmax(axis=0)
    return np.asarray(rows[first, np.arange(rows.shape[1])])


def _outline(case: Case) -> Iterator[Finding]:
    step = steps_between(case)
    size = np.where(np.isfinite(step), np.abs(step), 0.0)
    k = int(np.argmax(size))
    if not size[k] > WALL_STEP_MM:
        return
    lower, side = case.wall.sides[1], case.sides[1]
    line = int(side.trace.line[lower.motion[0, k]]) if side and lower else 0
    sentence = (
        f"the walls of side A and side B stand {mm(size[k]):.4f} apart; {mm(WALL_STEP_MM):g} is"
        " allowed"
    )
    yield Finding(
        kind=Kind.MISMATCH,
        side="B",
        line=line,
        message=sentence,
        place=rounded_place([*case.wall.points[k], case.wanted.floor_a]),
        measured=float(size[k]),
        allowed=WALL_STEP_MM,
    )


def apart(opening: MeasuredOpening) -> float | None:
    """Return how far the axes of a bore's two sides stand apart, mm; None unless both are known."""
    a, b = opening.rounds
    if a is None or b is None:
        return None
    return float(np.hypot(a.x - b.x, a.y - b.y))


def _axes(opening: MeasuredOpening) -> Iterator[Finding]:
    gap = apart(opening)
    if gap is None or not gap > WALL_STEP_MM or opening.bore is None:
        return
    sentence = (
        f"the axes of {opening.name} from side A and side B stand {mm(gap):.4f} apart; "
        f"{mm(WALL_STEP_MM):g} is allowed"
    )
    x, y = opening.bore.centre
    yield Finding(
        kind=Kind.MISMATCH, side="B", line=0, message=sentence, place=rounded_place([x, y, 0.0]),
        measured=gap, allowed=WALL_STEP_MM,
    )  # fmt: skip
