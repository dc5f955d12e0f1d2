"""What stops tell the hand, against what follows in the program and what the order says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from knifecam.judge.collisions import first_outline_cut
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, at_line
from knifecam.judge.hand_stops import OPTIONAL_STOP_NUMBER
from knifecam.judge.judge_limits import MESSAGE_SLACK_MM
from knifecam.measure.case import Case
from knifecam.quantity import bare, mm
from knifecam.rs274.trace import Act
from knifecam.shop import Order
from knifecam.sweep.side_program import SideProgram

N, AMOUNT = r"(?P<{}>[0-9]+)", r"(?P<{}>-?[0-9]+\.[0-9]+)"


PATTERNS: Mapping[str, str] = {
    "fit": (
        rf"FIT (?P<fresh>A FRESH )?CUTTER {N.format('cutter')}"
        rf"(?:, NUMBER {N.format('edge')} OF {N.format('edges')})?, SET H{N.format('length')}"
    ),
    "stays": rf"CUTTER {N.format('cutter')} STAYS IN, ITS LENGTH IN H{N.format('length')}",
    "gap": rf"READ Z: THE GAP UNDER CUTTER {N.format('cutter')} MUST BE {AMOUNT.format('gap')}",
    "block": (
        rf"BLOCK ON BARE PLATE AT X{AMOUNT.format('x')} Y{AMOUNT.format('y')}:"
        rf" {AMOUNT.format('gap')} MUST JUST PASS CUTTER {N.format('cutter')}"
    ),
    "away": rf"TAKE THE BLOCK OF {AMOUNT.format('gap')} AWAY",
    "filled": r"IS ALL THAT SIDE A OPENED FILLED, AND SCRAPED FLUSH\?",
    "fill": r"FILL (?:THE GROOVES|GROOVES, BEVELS AND CLEARED GROUND), SCRAPE FLUSH",
    "screws": r"PUT THE SCREWS IN NOW: BORES (?P<bores>.+)",
    "clamp": r"CLAMP THE FAR END OF THE BLADE NOW",
    "pins": r"TRY THE GAUGE PINS: (?P<bores>.+)",
    "land": (
        rf"{AMOUNT.format('left')} (?P<unit>MM|IN) IS LEFT ON THE BEVELS: MEASURE THE LAND IN THREE"
        " PLACES"
    ),
}
"""All that a stop may say, by its kind."""


TURN_OVER_PATTERN = re.compile(
    r"THEN TURN THE PLATE OVER ABOUT (?P<axis>\S+); SIDE B USES (?P<offset>G5[0-9.]+)"
)
"""What side A ends with."""


ABBREVIATED = "..."
"""How a message ends that stands whole in the remarks right above it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one stop says: its act, the words, their kind ("" where nothing reads them), values."""

    act: Act
    words: str
    kind: str
    values: Mapping[str, str]


def said_at_stops(side: SideProgram) -> Iterator[Said]:
    """Yield what each stop of a side says; words are empty where no message stands right before."""
    above: list[str] = []
    last = 0
    for act in side.trace.acts:
        if act.kind == "comment":
            above = [*above, _plain(act.text)] if act.line <= last + 1 else [_plain(act.text)]
        elif act.kind == "stop":
            near = above if act.line == last + 1 else []
            yield _read(act, near)
            above = []
        last = act.line


def remarks_of(side: SideProgram) -> str:
    """Return all remarks of a side, one after the other."""
    return " ".join(_plain(act.text) for act in side.trace.acts if act.kind == "comment")


def _plain(text: str) -> str:
    return " ".join(text.upper().split())


def _read(act: Act, above: list[str]) -> Said:
    """Return what a stop says by its message, or by the remarks above where that is cut short."""
    message = above[-1] if above and above[-1].startswith("MSG,") else ""
    words = message.removeprefix("MSG,").strip()
    if words.endswith(ABBREVIATED):
        begun = words.removesuffix(ABBREVIATED).strip()
        whole = " ".join(above[:-1])
        words = whole[whole.find(begun) :] if begun and begun in whole else words
    for kind, pattern in PATTERNS.items():
        seen = re.fullmatch(pattern, words)
        if seen:
            values = {name: value or "" for name, value in seen.groupdict().items()}
            return Said(act=act, words=words, kind=kind, values=values)
    return Said(act=act, words=words, kind="", values={})


def unread_stops(side: SideProgram) -> str:
    """Return a sentence about the stops whose words nothing reads; empty where there are none."""
    lines = [one.act.line for one in said_at_stops(side) if not one.kind]
    if not lines:
        return ""
    more = f" and {len(lines) - 1} more" if len(lines) > 1 else ""
    return (
        f"what the stop in line {lines[0]}{more} of side {side.name} tells the hand: it is not in the"
        " words that are read (docs/reference/stops.md)"
    )


SIZES = {"mm": 1.0, "in": 25.4}
"""mm of the unit that messages count in."""


Rule = Callable[[SideProgram, Said, Order], Iterator[str]]


def find_messages(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind stop-text."""
    for side in case.given():
        said = tuple(said_at_stops(side))
        for one in said:
            for why in STOP_RULES[one.kind](side, one, case.order) if one.kind else ():
                yield _finding(side, one.act.line, f'the stop says "{one.words}", but {why}')
        if any(one.kind for one in said):
            yield from _missing(side, said, case)
        yield from _turned(side, case.order)
    yield from _numbered(case)


def _finding(side: SideProgram, line: int, sentence: str) -> Finding:
    return at_line(Kind.STOP_TEXT, side.name, line, sentence)


def _next(side: SideProgram, said: Said, kind: str) -> int | None:
    """Return the number of the first act of a kind after a stop; None where there is none."""
    later = (a for a in side.trace.acts if a.kind == kind and a.line > said.act.line)
    found = next(later, None)
    return None if found is None else round(found.number)


def _held(side: SideProgram, said: Said) -> int:
    """Return the cutter in the spindle at a stop, 0 for none."""
    changes = [a for a in side.trace.acts if a.kind == "change" and a.line < said.act.line]
    return round(changes[-1].number) if changes else 0


def _goes_in(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    cutter, length = int(said.values["cutter"]), int(said.values["length"])
    called, offset = _next(side, said, "change"), _next(side, said, "length")
    if called != cutter:
        yield f"T{called} is called next"
    if offset != length:
        yield f"H{offset} is used next"
    if cutter not in [c.number for c in order.cutters]:
        yield f"the order has no cutter {cutter}"


def _fit(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    yield from _goes_in(side, said, order)
    cutter, held = int(said.values["cutter"]), _held(side, said)
    if held == cutter and not said.values["fresh"]:
        yield f"cutter {cutter} is in the spindle: only a fresh one is fitted in its place"


def _stays(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    yield from _goes_in(side, said, order)
    cutter, held = int(said.values["cutter"]), _held(side, said)
    if held != cutter:
        yield f"cutter {held} is in the spindle" if held else "no cutter is in the spindle"


def _off(told: str, is_: float, order: Order, unit: str = "") -> bool:
    """Whether a figure of a message, in ``unit`` or the program's, is not ``is_`` mm rounded to"
    " its digits."""
    size = SIZES[unit.lower() or order.setup.mill.units]
    least = 0.5 * 10.0 ** -len(told.partition(".")[2])
    return not abs(float(told) - is_ / size) <= least + MESSAGE_SLACK_MM


def _under(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    """Judge a gap and the cutter over it where the tip stands."""
    if said.act.before < 1:
        yield "nothing has moved yet"
        return
    motion = said.act.before - 1
    if "cutter" in said.values and int(said.values["cutter"]) != side.trace.cutter[motion]:
        yield f"cutter {int(side.trace.cutter[motion])} is in the spindle"
    height = float(side.motions.stop[motion, 2]) - side.face
    if _off(said.values["gap"], height, order):
        yield f"the tip stands {mm(height):.3f} above the plate"


def _block(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    yield from _under(side, said, order)
    if said.act.before < 1:
        return
    at = side.trace.motions.stop[said.act.before - 1]
    if _off(said.values["x"], float(at[0]), order) or _off(said.values["y"], float(at[1]), order):
        yield f"the tip stands at X{bare(at[0]):.3f} Y{mm(at[1]):.3f}"
    if _off(said.values["gap"], order.setup.gap_height, order):
        yield f"the order's block is {mm(order.setup.gap_height):g} high"


def _away(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    if _off(said.values["gap"], order.setup.gap_height, order):
        yield f"the order's block is {mm(order.setup.gap_height):g} high"


def _on(wanted: str) -> Rule:
    """Return the rule that such a stop stands on one side alone, and wants filled grooves."""

    def rule(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
        if side.name != wanted:
            yield f"this is side {side.name}, and it belongs to side {wanted}"
        if order.setup.support != "filled":
            yield "the order fills nothing"

    return rule


def _spelt(name: str) -> str:
    """Return a name as a remark can hold it: capitals of ASCII, square brackets for round ones."""
    letters = name.replace("(", "[").replace(")", "]").encode("ascii", "replace").decode()
    return " ".join(letters.upper().split())


def _screws(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    hold = order.setup.workholding
    named = [part.strip() for part in said.values["bores"].split(", ")]
    wanted = [_spelt(name) for name in hold.screws] if hold.kind == "bores" else []
    if side.name != "B":
        yield "screws go in on side B"
    if sorted(named) != sorted(", ".join(wanted).split(", ")):
        yield f"the order has them in {', '.join(wanted) or 'no bore'}"


def _clamp(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    if not order.setup.workholding.tip_clamp:
        yield "the order has no clamp there"
    if side.name != "B":
        yield "it goes on on side B"


def _pins(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    bores = (*order.blade.bores, *order.setup.registration.bores)
    known = {f"{_spelt(b.name)} {wide}" for b in bores if b.fitted for wide in _widths(b.diameter)}
    rest = said.values["bores"]
    for one in sorted(known, key=len, reverse=True):
        rest = rest.replace(one, "")
    if rest.strip(", "):
        yield f'no fitted bore of the order is "{rest.strip(", ")}"'


def _widths(diameter: float) -> tuple[str, str]:
    """Return a diameter of mm as a message tells it, in mm and in inches."""
    return f"{diameter:.3f} MM", f"{diameter / SIZES['in']:.4f} IN"


def _land(side: SideProgram, said: Said, order: Order) -> Iterator[str]:
    left = [c.allowance for c in order.cuttings("bevel-semi")]
    if not left or _off(said.values["left"], left[0], order, said.values["unit"]):
        yield f"the order leaves {mm(left[0] if left else 0.0):.3f}"
    if not (order.bevelling.measure_stop and side.name == "B"):
        yield "the order measures no land here"


STOP_RULES: Mapping[str, Rule] = {
    "fit": _fit, "stays": _stays, "gap": _under, "block": _block, "away": _away,
    "filled": _on("B"), "fill": _on("A"), "screws": _screws, "clamp": _clamp, "pins": _pins,
    "land": _land,
}  # fmt: skip


def _missing(side: SideProgram, said: tuple[Said, ...], case: Case) -> Iterator[Finding]:
    """Yield what the order wants told and no stop says, in a program whose stops can be read."""
    order, hold = case.order, case.order.setup.workholding
    sure = {one.kind for one in said if round(one.act.number) != OPTIONAL_STOP_NUMBER}
    outline = first_outline_cut(side, case)
    before = {one.kind for one in said if one.act.before <= outline}
    wanted: list[tuple[str, bool, set[str]]] = [
        ("fill", side.name == "A" and order.setup.support == "filled", sure),
        ("filled", side.name == "B" and order.setup.support == "filled", sure),
        ("clamp", side.name == "B" and hold.tip_clamp, sure),
        ("screws", side.name == "B" and hold.kind == "bores" and bool(hold.screws), before & sure),
        ("land", side.name == "B" and order.bevelling.measure_stop, sure),
    ]
    if not side.contact.any() or any(one.words and not one.kind for one in said):
        return  # none was cut, or a stop in other words may tell it: told as not judged
    for kind, asked, there in wanted:
        if asked and kind not in there:
            line = int(side.trace.line[min(outline, len(side) - 1)]) if kind == "screws" else 0
            yield _finding(side, line, f"no stop says {STOP_MEANINGS[kind]}")
    yield from _by_hand(side, said, case.order)


STOP_MEANINGS = {
    "fill": "that side A's voids are filled before the flip",
    "filled": "whether all that side A opened is filled",
    "clamp": "that the blade's far end is clamped now",
    "screws": "that the screws are put in before the outline is opened",
    "land": "that the land is measured before the bevels are finished",
}
"""What a stop of a kind tells the hand."""


def _by_hand(side: SideProgram, said: tuple[Said, ...], order: Order) -> Iterator[Finding]:
    """Yield cutters that a hand puts in with no stop that names them."""
    if not order.setup.mill.change_by_hand:
        return
    held = 0
    for act in (a for a in side.trace.acts if a.kind == "change"):
        number = round(act.number)
        near = [one for one in said if one.act.before == act.before and one.act.line < act.line]
        named = any(one.kind == "fit" or (one.words and not one.kind) for one in near)
        if number != held and not named:
            yield _finding(side, act.line, f"no stop says that cutter {number} is to be fitted")
        held = number


def _numbered(case: Case) -> Iterator[Finding]:
    """Yield cutters whose place among those of their number is not the one that follows.

    A fresh one is the next; another is the one that was in before, on side B of side A's program
    too; none is past how many there are, which all messages tell alike.
    """
    last: dict[int, tuple[int, int]] = {}
    for side in case.given():
        for one in said_at_stops(side):
            if one.kind != "fit" or not one.values["edge"]:
                continue
            cutter = int(one.values["cutter"])
            edge, edges = int(one.values["edge"]), int(one.values["edges"])
            before, wanted = last.get(cutter, (edge, edges)), int(bool(one.values["fresh"]))
            wanted = before[0] + wanted if cutter in last else edge
            if edge != wanted or edges != before[1] or not 1 <= edge <= edges:
                why = f"number {wanted} of {before[1]} is the one that follows"
                yield _finding(side, one.act.line, f'the stop says "{one.words}", but {why}')
            last[cutter] = (edge, edges)


def _turned(side: SideProgram, order: Order) -> Iterator[Finding]:
    """Yield where side A tells another axis, or another work offset, than side B is written for."""
    seen = TURN_OVER_PATTERN.search(remarks_of(side)) if side.name == "A" else None
    if seen is None:
        return
    setup = order.setup
    told = (seen["axis"], seen["offset"].rstrip("."))
    if told != (setup.flip, setup.offsets[1]):
        lines = [a.line for a in side.trace.acts if a.kind == "comment" and "TURN THE" in a.text]
        sentence = (
            f"the plate is said to be turned over about {told[0]} and side B to use {told[1]}; the"
            f" order has {setup.flip} and {setup.offsets[1]}"
        )
        yield _finding(side, int(np.max(lines, initial=0)), sentence)
