"""Findings and verdict: what the simulator says."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from knifecam.quantity import told
from knifecam.simulator.origin import Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is wrong.

    ``kind`` is a word of the design's list, ``side`` "A" or "B", ``line`` the 1-based line of that
    side's text (0: none), ``place`` (x, y, z) in the part frame or None.
    """

    kind: str
    side: str
    line: int
    message: str
    place: tuple[float, float, float] | None = None
    measured: float | None = None
    allowed: float | None = None
    remedy: str = ""

    def told_in(self, units: str) -> Finding:
        """Return it with its quantities in one unit, "mm" or "in"; its figures stay in mm."""
        message, remedy = told(self.message, units), told(self.remedy, units)
        return replace(self, message=message, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What was found, what was measured, what was not judged, and which order the texts name."""

    findings: tuple[Finding, ...] = ()
    measures: dict[str, Any] = field(default_factory=dict)
    not_judged: tuple[str, ...] = ()
    origin: Origin = Origin()  # noqa: RUF009

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
        from dataclasses import asdict

        return {
            "order": self.origin.as_dict(),
            "ok": self.ok,
            "state": self.state,
            "findings": [asdict(f) for f in self.findings],
            "measures": self.measures,
            "not_judged": list(self.not_judged),
        }
