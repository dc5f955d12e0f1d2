"""Which order the programs were written for, as their own heads tell."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

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
