"""Cases of sabotage: what is done to a good program, and what the judge must say to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from knifecam.shop import Order
from tests.sabotage import harness as spoil
from tests.sabotage.harness import Spoilt
from tests.sabotage.made import ORDERS, made, texts_of

TRENCH, WALL, BORES, SLOTS = "OUTLINE TRENCH", "OUTLINE WALL", "BORES", "SLOTS"

Make = Callable[[], Spoilt]
Change = Callable[[str], tuple[str, int | None]]


@dataclass(frozen=True, kw_only=True)
class Sabotage:
    """What must be found, on which side, and how the wrong programs are made."""

    kinds: frozenset[str]
    side: str
    name: str
    make: Make
    missed: str = ""


SABOTAGES: list[Sabotage] = []


def sabotage(kinds: str, side: str, name: str, *, missed: str = "") -> Callable[[Make], Make]:
    """Add a case; ``kinds`` holds one kind of finding, or several either of which is right.

    ``missed`` tells why the judge does not find it yet.
    """

    def keep(make: Make) -> Make:
        words = frozenset(kinds.split())
        SABOTAGES.append(Sabotage(kinds=words, side=side, name=name, make=make, missed=missed))
        return make

    return keep


def on_text(
    kinds: str,
    side: str,
    name: str,
    change: Change,
    *,
    of: str = "plain",
    missed: str = "",
) -> None:
    """Add a case that changes one side's text of a good program."""

    def make() -> Spoilt:
        good = made(of)
        which = "AB".index(side)
        text = good.texts[which]
        assert text is not None
        changed, line = change(text)
        assert changed != text
        texts = (changed, good.texts[1]) if which == 0 else (good.texts[0], changed)
        return Spoilt(order=good.order, texts=texts, line=line)

    sabotage(kinds, side, name, missed=missed)(make)


def on_order(
    kinds: str,
    side: str,
    name: str,
    change: Callable[[Order], Order],
    *,
    of: str = "plain",
    missed: str = "",
) -> None:
    """Add a case in which the order says something else than the programs were made for."""

    def make() -> Spoilt:
        good = made(of)
        return Spoilt(order=change(good.order), texts=good.texts)

    sabotage(kinds, side, name, missed=missed)(make)


def on_plan(
    kinds: str,
    side: str,
    name: str,
    change: Callable[[Order], Order],
    *,
    of: str = "plain",
    of_order: Callable[[Order], Order] = lambda order: order,
    missed: str = "",
) -> None:
    """Add a case planned for a changed order, though the order is ``of_order`` of the good one."""

    def make() -> Spoilt:
        order = ORDERS[of]()
        return Spoilt(order=of_order(order), texts=texts_of(change(order)))

    sabotage(kinds, side, name, missed=missed)(make)


def whole(change: Callable[[str], str]) -> Change:
    """A change that no single line stands for."""
    return lambda text: (change(text), None)


def at(pattern: str, old: str, new: str, *, cut: str = "", number: int = 0) -> Change:
    """A replacement in one line, which is the wrong one."""

    def change(text: str) -> tuple[str, int | None]:
        line = spoil.nth(text, pattern, cut=cut, number=number)
        return spoil.edited(text, line, old, new), line

    return change


def without(pattern: str, *, cut: str = "", number: int = 0) -> Change:
    """One line dropped; its number is that of the line that follows then."""

    def change(text: str) -> tuple[str, int | None]:
        line = spoil.nth(text, pattern, cut=cut, number=number)
        return spoil.dropped(text, line), line

    return change


def inserting(new: str, before: str, *, cut: str = "", number: int = 0) -> Change:
    """One line put in before another."""

    def change(text: str) -> tuple[str, int | None]:
        line = spoil.nth(text, before, cut=cut, number=number)
        return spoil.inserted(text, line, new), line

    return change


def first_contact(change: Change, pattern: str, cut: str, *, number: int = 0) -> Change:
    """A change that is found at the first line of the cut with that pattern, or a later one."""

    def changed(text: str) -> tuple[str, int | None]:
        new, _ = change(text)
        return new, spoil.nth(new, pattern, cut=cut, number=number)

    return changed


def opening(change: Change, cut: str) -> Change:
    """A change that is found where the cut opens."""
    return first_contact(change, r"^\(CUT", cut)
