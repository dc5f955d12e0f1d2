"""A program's text as bytes, of which the plain lines are read by compiled code.

See `knifecam.simulator.rs274.plain` for what a plain line is.
"""

from __future__ import annotations

import numpy as np

from knifecam.simulator.rs274 import modal, plain
from knifecam.simulator.rs274.codes import ARCS, RAPID_G0, STRAIGHT_G1, XY_G17
from knifecam.simulator.rs274.modal import ALL_KNOWN, State
from knifecam.simulator.rs274.record import Record

_MOTIONS = (RAPID_G0, STRAIGHT_G1, *ARCS, None)
_COLUMNS = ("kind", "start", "stop", "centre", "turns", "feed", "line")
_FIRST_LETTERS = frozenset(b"gGxXyYzZnNfF( \t\r\n")
SHORTEST = 3
"""Bytes of a line that makes a motion, at least: a letter, a digit, a line feed."""

WORTH_IT, LONGEST_PAUSE = 4, 31
"""Lines: a shorter run of plain ones costs more than it saves, and where to look again."""

_CHUNK, _NOTES = 1 << 20, 1 << 14
"""Motions and comments for which room is made at a time."""


class PlainText:
    """Reads the plain lines of a text in UTF-8 up to byte ``end``, from wherever it is asked to."""

    __slots__ = ("_bytes", "_data", "_modes", "_notes", "_numbers", "_pause", "_waits", "_words")

    def __init__(self, data: bytes, end: int) -> None:
        data = data if end == len(data) else data[:end]
        self._data = data if data.endswith(b"\n") else data + b"\n"
        self._bytes = np.frombuffer(self._data, np.uint8)
        self._words = plain.WORDS_BEYOND_ASCII if _is_printable(data) else plain.WORDS
        self._pause = self._waits = 0
        self._numbers = np.zeros(8)
        self._modes = np.zeros(4, np.int64)
        self._notes = np.empty((min(_NOTES, data.count(b"(") + 1), 4), np.int64)

    def read(self, at: int, line: int, state: State, record: Record) -> tuple[int, int]:
        """Read plain lines from ``at`` on; return where the first other begins, and its number."""
        if self._waits > 0:
            self._waits -= 1
            return at, line
        begun, full = line, True
        while full and self._may_be_plain(at) and is_ready(state):
            at, line, full = self._run(at, line, state, record)
        if not full:
            self._wait(line - begun)
        return at, line

    def _may_be_plain(self, at: int) -> bool:
        return at < len(self._bytes) - 1 and self._data[at] in _FIRST_LETTERS

    def _run(self, at: int, line: int, state: State, record: Record) -> tuple[int, int, bool]:
        """Read plain lines while there is room; return where, which line, whether room ran out."""
        before = len(record)
        record.room(min(_CHUNK, (len(self._bytes) - at) // SHORTEST + 1))
        self._pack(state)
        columns = [record.columns[name] for name in _COLUMNS]
        at, line, count = plain.read_plain(
            self._bytes, at, line, self._numbers, self._modes, *columns, before,
            self._words, self._notes,
        )  # fmt: skip
        if count > before:
            record.take(int(count), state)
        noted = int(self._modes[plain.NOTED])
        self._take_notes(noted, record)
        self._unpack(state)
        return int(at), int(line), count == len(columns[0]) or noted == len(self._notes)

    def _take_notes(self, count: int, record: Record) -> None:
        for begin, end, line, motion in self._notes[:count].tolist():
            record.note(self._data[begin:end].decode(), line, motion)

    def _wait(self, lines: int) -> None:
        """Leave the next lines to the other reader, where few of late were plain."""
        self._pause = 0 if lines >= WORTH_IT else min(2 * self._pause + 1, LONGEST_PAUSE)
        self._waits = self._pause

    def _pack(self, state: State) -> None:
        numbers, modes = self._numbers, self._modes
        numbers[:] = (*state.place, *state.shift, state.units, state.feed)
        motion = plain.NO_MOTION if state.motion is None else state.motion
        modes[:] = motion, state.absolute, 0, 0

    def _unpack(self, state: State) -> None:
        state.x, state.y, state.z, *_, state.feed = self._numbers.tolist()
        motion, _, said, _ = self._modes.tolist()
        state.motion = None if motion == plain.NO_MOTION else motion
        if said & plain.SAID_FEED:
            state.given |= modal.FEED
        if said & plain.SAID_MOTION:
            state.given |= modal.MOTION


def _is_printable(data: bytes) -> bool:
    """Return whether all characters beyond ASCII can be printed."""
    if data.isascii():
        return True
    found = set(data.decode("utf-8", "surrogatepass"))
    return all(character.isascii() or character.isprintable() for character in found)


def is_ready(state: State) -> bool:
    """Return whether the modes are those in which plain lines may be read by compiled code."""
    return (
        state.known == ALL_KNOWN
        and not state.tolerant
        and not state.hand
        and not state.inverse_time
        and state.plane == XY_G17
        and state.motion in _MOTIONS
    )
