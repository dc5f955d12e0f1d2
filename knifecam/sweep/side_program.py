"""One side's program, read and laid over the part, and what its cutters met."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import RAPID, Motions
from knifecam.curve.curve import frozen
from knifecam.rs274.codes import OFFSET_CODES, g_name
from knifecam.rs274.modal_state import Stored
from knifecam.rs274.program_reader import lines_of
from knifecam.rs274.trace import Trace
from knifecam.shop import Order, Setup
from knifecam.shop.cutter import CHAMFER
from knifecam.shop.setup import Misplacement
from knifecam.sweep.columns import Swept, sample_steps
from knifecam.sweep.side_frames import Frame, misplaced_frame, side_frame, side_motions, to_part
from knifecam.sweep.sweep_limits import LEAST_CONTACT_MM3, OUT_OF_THE_WAY_MM
from knifecam.sweep.sweep_steps import ContactSteps, SweepSteps, steps_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class CutterSizes:
    """The cutter of each motion: radii and heights above the tip, mm, (M,) each.

    ``tip`` is the radius of a chamfer mill's flat tip and ``half_angle`` its cone's, rad, against
    the axis; 0 for the other kinds. ``known`` tells where the order names the cutter; elsewhere all
    figures are 0.
    """

    known: NDArray[np.bool_]
    radius: Floats
    corner: Floats
    tip: Floats
    half_angle: Floats
    flute_length: Floats
    neck: Floats
    reach: Floats
    shank: Floats
    stickout: Floats
    holder: Floats

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            dtype = np.bool_ if name == "known" else np.float64
            object.__setattr__(self, name, frozen(getattr(self, name), dtype))

    def radius_at(self, motion: NDArray[np.int64] | NDArray[np.int32], above: Floats) -> Floats:
        """Return how wide the cutters of motions are ``above`` mm over their tips, mm.

        ``motion`` is of the shape of ``above`` or broadcast to it; so is what is returned.
        """
        radius, corner, cone = self.radius[motion], self.corner[motion], self.half_angle[motion]
        rest = np.maximum(corner - above, 0.0)
        rounded = radius - corner + np.sqrt(np.maximum(corner**2 - rest**2, 0.0))
        conical = np.minimum(radius, self.tip[motion] + above * np.tan(cone))
        return np.where(cone > 0.0, conical, rounded)


@dataclass(frozen=True, eq=False, kw_only=True)
class SideProgram:
    """One side's program.

    ``motions`` are in the side frame; those of unknown cutters and of the gauge pin are too, but
    `swept_motions` holds them far above the plate. ``first`` is the global index of motion 0.
    """

    name: str
    text: str
    trace: Trace
    frame: Frame
    motions: Motions
    shapes: CutterSizes
    thickness: float
    first: int
    swept: Swept | None = None

    def __len__(self) -> int:
        return len(self.motions)

    @property
    def face(self) -> float:
        """Height of the plate's upper face in the side frame, mm."""
        return self.thickness / 2

    @property
    def fixture(self) -> float:
        """Height of the fixture in the side frame, mm."""
        return -self.thickness / 2

    @cached_property
    def rapid(self) -> NDArray[np.bool_]:
        """(M,): which motions are rapids."""
        return np.asarray(self.motions.kind == RAPID)

    @cached_property
    def cutter_radius(self) -> Floats:
        """(M,) mm: the radius each motion is swept with; 1 where the cutter is not known."""
        return np.where(self.shapes.known, self.shapes.radius, 1.0)

    @cached_property
    def covers(self) -> tuple[Floats, Floats]:
        """(M, 2) each, mm: lower and upper corner of the box each motion's cutter stays in."""
        m = self.swept_motions()
        # an arc of at most half a turn stands out of its chord's box by no more than its rise
        rise = m.radii * np.where(np.abs(m.turns) <= 0.5, 1 - np.cos(np.pi * m.turns), 2.0)
        grown = (self.cutter_radius + rise)[:, None]
        start, stop = m.start[:, :2], m.stop[:, :2]
        return np.minimum(start, stop) - grown, np.maximum(start, stop) + grown

    @cached_property
    def below_face(self) -> NDArray[np.bool_]:
        """(M,): which motions come below the plate's upper face."""
        m = self.swept_motions()
        return np.asarray(np.fmin(m.start[:, 2], m.stop[:, 2]) < self.face)

    @cached_property
    def volume(self) -> Floats:
        """(M,) mm3: metal each motion took."""
        return np.zeros(len(self)) if self.swept is None else np.asarray(self.swept.volume)

    @cached_property
    def contact(self) -> NDArray[np.bool_]:
        """(M,): which motions took metal."""
        return np.asarray(self.volume > LEAST_CONTACT_MM3)

    @cached_property
    def steps(self) -> ContactSteps:
        """The steps the motions were swept in.

        Raises
        ------
        ValueError
            Where nothing has been swept.
        """
        if self.swept is None:
            raise ValueError(f"side {self.name} has not been swept")
        return steps_of(self.motions, self.swept.engagement, self.frame)

    @cached_property
    def laid(self) -> SweepSteps:
        """Its motions as the steps in which sample columns are cut."""
        return sample_steps(
            self.swept_motions(), self.cutter_radius, self.shapes.corner, side=self.name,
            flip="X" if self.frame.signs[0] > 0 else "Y",
            tip=self.shapes.tip, half_angle=self.shapes.half_angle,
        )  # fmt: skip

    @cached_property
    def minutes(self) -> Floats:
        """(M,) min: feed time of each motion; 0 for rapids."""
        feed = self.motions.feed
        going = ~self.rapid & (feed > 0)
        return np.where(going, self.motions.lengths / np.where(going, feed, 1.0), 0.0)

    @cached_property
    def known_after(self) -> NDArray[np.bool_]:
        """(M, 3): whether the text tells where X, Y and Z stand after each motion."""
        known = np.asarray(self.trace.known)
        later = np.zeros_like(known)
        later[:-1] = known[1:]
        return known | later | (self.motions.start != self.motions.stop)

    @cached_property
    def part_stop(self) -> Floats:
        """(M, 3) mm: where each motion ends, in the part frame."""
        return to_part(self.frame, self.motions.stop)

    def with_swept(self, swept: Swept) -> SideProgram:
        """Return the same side with what its motions met."""
        return replace(self, swept=swept)

    def swept_motions(self) -> Motions:
        """Return the motions with those of unknown cutters lifted clear of everything."""
        if bool(self.shapes.known.all()):
            return self.motions
        lift = np.where(self.shapes.known, 0.0, OUT_OF_THE_WAY_MM)[:, None] * (0.0, 0.0, 1.0)
        m = self.motions
        return Motions(m.kind, m.start + lift, m.stop + lift, m.centre, m.turns, m.feed)

    def misplaced(self, place: Misplacement) -> SideProgram:
        """Return the same program run while the plate lies otherwise."""
        frame = misplaced_frame(self.frame, place)
        return replace(self, frame=frame, motions=side_motions(frame, self.trace.motions))

    def text_line(self, line: int) -> str:
        """Return a line of the text, 1-based."""
        lines = lines_of(self.text)
        return lines[line - 1].strip() if 0 < line <= len(lines) else ""


def side_of(order: Order, name: str, text: str, trace: Trace, first: int) -> SideProgram:
    """Return a side ready to be swept."""
    frame = side_frame(order.setup, name)
    return SideProgram(
        name=name,
        text=text,
        trace=trace,
        frame=frame,
        motions=side_motions(frame, trace.motions),
        shapes=_shapes(order, trace),
        thickness=order.setup.plate.thickness,
        first=first,
    )


def _shapes(order: Order, trace: Trace) -> CutterSizes:
    names = [name for name in CutterSizes.__dataclass_fields__ if name != "known"]
    rows = {name: np.zeros(len(trace.cutter)) for name in names}
    known = np.zeros(len(trace.cutter), bool)
    halved, conical = {"tip", "neck", "shank", "holder"}, {"tip", "half_angle"}
    for cutter in order.cutters:
        mine = trace.cutter == cutter.number
        known |= mine
        for name in names:
            if name not in conical or cutter.kind == CHAMFER:
                rows[name][mine] = getattr(cutter, name) / (2 if name in halved else 1)
    return CutterSizes(known=known, **rows)


def bounds(side: SideProgram) -> tuple[Floats, Floats]:
    """Return the lowest and highest X, Y and Z the program goes to, (3,) each, exact on arcs.

    In the program frame, mm. Places that the text does not tell are left out.
    """
    motions = side.trace.motions
    points = [
        np.where(np.asarray(side.trace.known), motions.start, np.nan),
        np.where(side.known_after, motions.stop, np.nan),
        motions.farthest(),
    ]
    every = np.concatenate(points)
    told = np.isfinite(every)
    low = np.where(told, every, np.inf).min(axis=0, initial=np.inf)
    high = np.where(told, every, -np.inf).max(axis=0, initial=-np.inf)
    return np.where(low <= high, low, 0.0), np.where(low <= high, high, 0.0)


def stored_of(setup: Setup) -> Stored:
    """Return what the mill has stored as far as an order's setup tells: zeros of work offsets."""
    zeros = {}
    for system, axis in product(range(1, len(OFFSET_CODES) + 1), range(3)):
        zero = _zero_of_setup(setup, system, axis)
        if zero is not None:
            zeros[system, axis] = zero
    return Stored(zeros=zeros)


def _zero_of_setup(setup: Setup, system: int, axis: int) -> float | None:
    """Return the machine coordinate of a work offset's zero, mm; None where it is unknown."""
    if setup.mill.machine_zero is None:
        return None
    name = g_name(OFFSET_CODES[system - 1])
    sides = zip(setup.offsets, setup.mill.machine_zero, strict=True)
    zeros = {None if zero is None else zero[axis] for code, zero in sides if code == name}
    return zeros.pop() if len(zeros) == 1 else None
