"""The verdict, its findings and their order; how many hits become few findings, first and worst."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.judge.finding_kinds import FINDING_KINDS, Kind
from knifecam.quantity import told
from knifecam.shop import Order
from knifecam.sweep.side_program import SideProgram

_HEAD = re.compile(
    r"^[ \t]*(?:N[ \t]*[0-9]+[ \t]*)?\([ \t]*KNIFECAM [^ (),]+, ORDER ([0-9A-F]{16})[ \t]*\)[ \t\r]*$",
    re.IGNORECASE | re.MULTILINE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """The digest of an order, and those that programs name.

    ``order`` is "" for an order built by hand; ``programs`` holds a row (side, digest) for each
    program that is there, with "" where its head names none.
    """

    order: str = ""
    programs: tuple[tuple[str, str], ...] = ()

    @property
    def strangers(self) -> tuple[tuple[str, str], ...]:
        """The rows of programs that name another order."""
        return tuple(row for row in self.programs if self.order and row[1] not in ("", self.order))

    @property
    def fits(self) -> bool | None:
        """Whether all programs name this order; None where one names none and no other is wrong."""
        if self.strangers:
            return False
        known = self.order and self.programs and all(digest for _, digest in self.programs)
        return True if known else None

    def as_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        programs = {side: digest or None for side, digest in self.programs}
        return {"digest": self.order or None, "programs": programs, "fits": self.fits}


def origin_of(order: Order, texts: tuple[str | None, str | None]) -> Origin:
    """Return which order both programs name, and this one's digest."""
    rows = zip("AB", texts, strict=True)
    named = tuple((side, _named(text)) for side, text in rows if text is not None)
    return Origin(order=order.digest, programs=named)


def _named(text: str) -> str:
    """Return the digest that a program's head names, "" for none."""
    found = _HEAD.search(text)
    return found[1].lower() if found else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is wrong.

    ``side`` is "A" or "B", ``line`` the 1-based line of that side's text (0: none), ``place``
    (x, y, z) in the part frame or None. ``remedy`` is that of its kind where none is given.
    ``rests_on`` names the cutter it is about, as "cutter 7", for
    `knifecam.shop.assumptions.unstated`.
    """

    kind: Kind
    side: str
    line: int
    message: str
    place: tuple[float, float, float] | None = None
    measured: float | None = None
    allowed: float | None = None
    remedy: str = ""
    rests_on: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.remedy:
            object.__setattr__(self, "remedy", FINDING_KINDS[self.kind].remedy)

    def told_in(self, units: str) -> Finding:
        """Return it with its quantities in one unit, "mm" or "in"; its figures stay in mm."""
        message, remedy = told(self.message, units), told(self.remedy, units)
        return replace(self, message=message, remedy=remedy)

    def as_dict(self) -> dict[str, Any]:
        """Return what was found as plain values for JSON."""
        plain = asdict(self) | {"kind": str(self.kind)}
        return {key: value for key, value in plain.items() if key != "rests_on"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What was found, what was measured, what was not judged, and which order the texts name."""

    findings: tuple[Finding, ...] = ()
    measures: dict[str, Any] = field(default_factory=dict)
    not_judged: tuple[str, ...] = ()
    origin: Origin = Origin()

    @property
    def unseen(self) -> tuple[str, ...]:
        """The sides that were not given or could not be read."""
        sides = self.measures.get("sides")
        return () if sides is None else tuple(side for side in "AB" if side not in sides)

    @property
    def ok(self) -> bool:
        """Whether both sides were seen and nothing was found."""
        return self.state == "proved"

    @property
    def state(self) -> str:
        """Return "proved", "not proved", or "one side": nothing found, but one side not seen."""
        if self.findings:
            return "not proved"
        return "one side" if self.unseen else "proved"

    def as_dict(self) -> dict[str, Any]:
        """Return the verdict as plain values for JSON."""
        return {
            "order": self.origin.as_dict(),
            "ok": self.ok,
            "state": self.state,
            "findings": [f.as_dict() for f in self.findings],
            "measures": self.measures,
            "not_judged": list(self.not_judged),
        }


Message = tuple[str, float | None, float | None]
"""A sentence, what was measured and what was allowed."""


def first_and_worst(
    kind: Kind,
    side: SideProgram,
    motions: ArrayLike,
    *,
    tell: Callable[[int], Message],
    remedy: str = "",
    badness: ArrayLike | None = None,
    places: NDArray[np.float64] | None = None,
) -> Iterator[Finding]:
    """Yield the first and, where it is another line, the worst of many hits.

    Parameters
    ----------
    motions : (K,) int
        Index of the motion of each hit on its side.
    tell
        Gives sentence, measure and limit of the hit ``k`` in 0..K-1.
    remedy
        Given where these hits have a better one than their kind.
    badness : (K,), optional
        The greatest is the worst.
    places : (K, 3), optional
        In the part frame, mm; without them the ends of the motions are taken.
    """
    index = np.asarray(motions, dtype=np.int64)
    if not len(index):
        return
    lines = side.trace.line[index]
    first = int(np.argmin(lines))
    chosen = [first]
    if badness is not None:
        worst = int(np.argmax(np.asarray(badness)))
        if lines[worst] != lines[first]:
            chosen.append(worst)
    others = len(np.unique(lines)) - len(chosen)
    for turn, k in enumerate(chosen):
        sentence, measured, allowed = tell(k)
        if turn == 1:
            sentence += " (the worst)"
        if turn == 0 and others > 0:
            sentence += f" (and {others} more line{'s' if others > 1 else ''})"
        where = side.part_stop[index[k]] if places is None else places[k]
        yield Finding(
            kind=kind,
            side=side.name,
            line=int(lines[k]),
            message=sentence,
            place=rounded_place(where),
            measured=measured,
            allowed=allowed,
            remedy=remedy,
            rests_on=(f"cutter {int(side.trace.cutter[index[k]])}",),
        )


def at_motion(
    kind: Kind, side: SideProgram, motion: int, told: Message, remedy: str = ""
) -> Finding:
    """Return one finding at one motion."""
    return next(first_and_worst(kind, side, [motion], tell=lambda _: told, remedy=remedy))


def at_line(
    kind: Kind, side: str, line: int, sentence: str, remedy: str = "", **rest: Any
) -> Finding:
    """Return a finding of a line of text that is not a motion, or of the whole side (line 0)."""
    return Finding(kind=kind, side=side, line=line, message=sentence, remedy=remedy, **rest)


def rounded_place(where: ArrayLike) -> tuple[float, float, float] | None:
    """Return plain numbers, rounded to 0.1 um; None where the place is not known."""
    x, y, z = (round(float(v), 4) + 0.0 for v in np.asarray(where, dtype=float))
    return (x, y, z) if np.isfinite([x, y, z]).all() else None
