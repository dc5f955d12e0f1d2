"""What stops tell the hand: a small language, written here and in no other place.

`docs/reference/stops.md` states it. A simulator that shares nothing with this module reads it back
from the text and holds it against what follows there and what the order says. Numbers are in the
program's unit and come as text, or in both units (`knifecam.quantity`) for whoever writes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from knifecam.quantity import mm

SCREWS_IN = "PUT THE SCREWS IN NOW"
"""How the stop begins from which on the screws' heads stand there."""

FILLED = "IS ALL THAT SIDE A OPENED FILLED, AND SCRAPED FLUSH?"

CLAMP_NOW = "CLAMP THE FAR END OF THE BLADE NOW"


def fit(cutter: int, *, fresh: bool, edge: tuple[int, int] = (1, 1)) -> str:
    """Return what asks for a cutter, its length in the register of its own number.

    ``edge`` is which of its number's cutters it is, and of how many; one alone is not counted.
    """
    which = f", NUMBER {edge[0]} OF {edge[1]}" if edge[1] > 1 else ""
    return f"FIT {'A FRESH CUTTER' if fresh else 'CUTTER'} {cutter}{which}, SET H{cutter}"


def stays(cutter: int) -> str:
    """Return what tells that a cutter stays in."""
    return f"CUTTER {cutter} STAYS IN, ITS LENGTH IN H{cutter}"


def read_gap(cutter: int, gap: str) -> str:
    """Return what has the gap under the tip read, high up."""
    return f"READ Z: THE GAP UNDER CUTTER {cutter} MUST BE {gap}"


def block_under(cutter: int, gap: str, place: Sequence[str]) -> str:
    """Return what has a block tried under the tip, on bare plate at X and Y."""
    x, y = place
    return f"BLOCK ON BARE PLATE AT X{x} Y{y}: {gap} MUST JUST PASS CUTTER {cutter}"


def take_block(gap: str) -> str:
    """Return what has the block taken away."""
    return f"TAKE THE BLOCK OF {gap} AWAY"


def fill(opened: str) -> str:
    """Return what has side A's voids filled before the flip."""
    return f"FILL {opened}, SCRAPE FLUSH"


def screws(bores: Iterable[str]) -> str:
    """Return what asks for the screws that hold the blade."""
    return f"{SCREWS_IN}: BORES " + ", ".join(bores)


def gauge_pins(bores: Iterable[tuple[str, float]]) -> str:
    """Return what has fitted bores tried, by name and diameter in mm."""
    return "TRY THE GAUGE PINS: " + ", ".join(
        f"{name} {mm(wide):.3f}".upper() for name, wide in bores
    )


def measure_land(left: float) -> str:
    """Return what has the land measured, with ``left`` mm on the bevels."""
    return f"{mm(left):.3f} is left on the bevels: measure the land in three places".upper()


def turn_over(axis: str, offset: str) -> str:
    """Return how the plate is turned after side A, and the work offset that side B counts from."""
    return f"THEN TURN THE PLATE OVER ABOUT {axis}; SIDE B USES {offset}"
