"""What a program tells the hand at its stops, read by the patterns of `docs/reference/stops.md`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act

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

TURN = re.compile(
    r"THEN TURN THE PLATE OVER ABOUT (?P<axis>\S+); SIDE B USES (?P<offset>G5[0-9.]+)"
)
"""What side A ends with."""

ABBREVIATED = "..."
"""How a message ends that stands whole in the remarks right above it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one stop says: its act, the words, their kind ("" where nothing reads them), figures."""

    act: Act
    words: str
    kind: str
    figures: Mapping[str, str]


def said_at_stops(side: Side) -> Iterator[Said]:
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


def remarks_of(side: Side) -> str:
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
            figures = {name: value or "" for name, value in seen.groupdict().items()}
            return Said(act=act, words=words, kind=kind, figures=figures)
    return Said(act=act, words=words, kind="", figures={})


def unread_stops(side: Side) -> str:
    """Return a sentence about the stops whose words nothing reads; empty where there are none."""
    lines = [one.act.line for one in said_at_stops(side) if not one.kind]
    if not lines:
        return ""
    more = f" and {len(lines) - 1} more" if len(lines) > 1 else ""
    return (
        f"what the stop in line {lines[0]}{more} of side {side.name} tells the hand: it is not in the"
        " words that are read (docs/reference/stops.md)"
    )
