"""How far the axes move, against the mill's travels."""

from __future__ import annotations

from collections.abc import Iterator

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
                    sentence = f"{name} moves over {extent:.3f} mm; the mill's travel is {way:g} mm"
                    yield at_line(
                        "travel", side.name, 0, sentence, "use a mill of longer travel",
                        measured=extent, allowed=way,
                    )  # fmt: skip
                continue
            first, last = zero[axis] + float(low[axis]), zero[axis] + float(high[axis])
            if not (first >= -1e-6 and last <= way + 1e-6):
                sentence = (
                    f"{name} moves from {first:.3f} to {last:.3f} mm in machine coordinates; "
                    f"the mill has 0 to {way:g} mm"
                )
                yield at_line(
                    "travel", side.name, 0, sentence, "move the plate or its zero on the table",
                    measured=last if last > way else first, allowed=way if last > way else 0.0,
                )  # fmt: skip
