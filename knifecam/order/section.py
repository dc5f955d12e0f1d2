"""What every table of the order has in common, and the entries its keys are made of."""

from __future__ import annotations

from typing import ClassVar

from pydantic import BaseModel, ConfigDict

from knifecam.order.entry import Either, Entry, Measure, Row, Text
from knifecam.record import Within, within
from knifecam.shop import Plate

Place = tuple[float, float]

SIZE = Measure(within=within(Plate, "length"))
ANYWHERE = Measure(within=within(Plate, "corner"))
PLACE = Row(of=ANYWHERE, least=2, most=2, each=("x", "y"))
NAME = Text()


class Section(BaseModel):
    """One table of the order: frozen, and no other keys than these."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    record: ClassVar[type | None] = None


def a_text(meaning: str, default: str = "") -> Text:
    """Return the entry of a short name."""
    return Text(meaning=meaning, default=default)


def a_length(meaning: str, default: str = "", *, within: Within) -> Measure:
    """Return the entry of a length within bounds."""
    return Measure(meaning=meaning, default=default, within=within)


def a_row(
    of: Entry, count: int, meaning: str, default: str = "", *, each: tuple[str, ...] = ()
) -> Row:
    """Return the entry of so many values of one kind."""
    return Row(of=of, least=count, most=count, each=each, meaning=meaning, default=default)


def either_of(rule: str, meaning: str, default: str, *forms: Entry) -> Either:
    """Return the entry of a value of several forms."""
    return Either(forms=forms, rule=rule, meaning=meaning, default=default)
