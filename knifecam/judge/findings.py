"""The verdict and its findings, and which order the programs were written for."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from knifecam.judge.finding_kinds import FINDING_KINDS, Kind
from knifecam.quantity import told
from knifecam.shop import Order

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
