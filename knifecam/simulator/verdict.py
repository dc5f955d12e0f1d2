"""Findings and verdict: what the simulator says."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What was found, what was measured, and what was not judged."""

    findings: tuple[Finding, ...] = ()
    measures: dict[str, Any] = field(default_factory=dict)
    not_judged: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    def as_dict(self) -> dict[str, Any]:
        """Return the verdict as plain values for JSON."""
        from dataclasses import asdict

        return {
            "ok": self.ok,
            "findings": [asdict(f) for f in self.findings],
            "measures": self.measures,
            "not_judged": list(self.not_judged),
        }
