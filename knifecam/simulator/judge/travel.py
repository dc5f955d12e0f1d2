"""How far the axes move, against the mill's travels."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.quantity import bare, mm
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import at_line
from knifecam.simulator.measure_motion import bounds
from knifecam.simulator.verdict import Finding


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind travel."""
    mill = case.order.setup.mill
    for side in case.given():
        if not len(side):
            continue
        low, high = bounds(side)
        zero = None if mill.machine_zero is None else mill.machine_zero["AB".index(side.name)]
        for axis, name in enumerate("XYZ"):
            extent, way = float(high[axis] - low[axis]), mill.travel[axis]
            if zero is None:
                if not extent <= way + 1e-6:
                    sentence = (
                        f"{name} moves over {mm(extent):.3f}; the mill's travel is {mm(way):g}"
                    )
                    yield at_line(
                        "travel", side.name, 0, sentence, "use a mill of longer travel",
                        measured=extent, allowed=way,
                    )  # fmt: skip
                continue
            first, last = zero[axis] + float(low[axis]), zero[axis] + float(high[axis])
            begin, end = mill.travel_from[axis], mill.travel_from[axis] + way
            if not (first >= begin - 1e-6 and last <= end + 1e-6):
                sentence = (
                    f"{name} moves from {bare(first):.3f} to {mm(last):.3f} in machine coordinates; "
                    f"the mill has {bare(begin):g} to {mm(end):g}"
                )
                yield at_line(
                    "travel", side.name, 0, sentence, _remedy(side.name, axis, extent <= way + 1e-6),
                    measured=last if last > end else first, allowed=end if last > end else begin,
                )  # fmt: skip


def _remedy(side: str, axis: int, fits: bool) -> str:
    """Return what would do: where the way is long enough, its ends or the zero are elsewhere."""
    if not fits:
        return "use a mill of longer travel"
    counted = f"check mill.travel_from[{axis + 1}], where the machine coordinates of the axis begin"
    if axis == 2:
        counted += " (minus its travel where Z counts down from the top)"
    return f"{counted}, and mill.machine_zero_{side.lower()}; or move the plate's zero on the table"
