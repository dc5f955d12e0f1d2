"""Plain lines, read by compiled code: what most of a program consists of.

`read_plain` takes the bytes of a text and goes on line by line while a line holds nothing but a
line number, G0 to G3, X, Y, Z, I, J and F with plain numbers, and comments, is well formed and makes
no more than one motion that is allowed. At the first other line it stops: the readable reader then
reads that line, refuses it where it must, and says why. The motions are the same to the last bit,
since both do the same arithmetic in the same order: numbers of at most 2^53 over a power of ten of
at most 10^22 are correctly rounded (as `float` does it), and lengths are plain square roots.

The whole call tree and its constants stay in this file, since a disk cache of compiled code does
not see changes elsewhere; tests hold the constants to those of `lines`, `arcs` and `codes`.

See `knifecam.rs274.fast_lines` for what a plain line is.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import inner, outer
from knifecam.rs274 import modal_state
from knifecam.rs274.codes import ARCS, RAPID_G0, STRAIGHT_G1, XY_G17
from knifecam.rs274.modal_state import ALL_KNOWN, State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.rs274_limits import (
    LEAST_RADIUS_MM,
    MM_PER_INCH,
    ONE_PLACE_MM,
    TOLERANCE_INCH,
    TOLERANCE_MM,
)

Floats = NDArray[np.float64]


Bytes = NDArray[np.uint8]


Ints = NDArray[np.int64]


LINE_LIMIT = 253


DIGITS_BEFORE_POINT = 9


DIGITS = 18


MANTISSA_LIMIT = 1 << 53


RAPID, FEED, ARC = 0, 1, 2


POWERS = 10.0 ** np.arange(DIGITS + 1)


# places in `numbers`
PLACE_AT, SHIFT_AT, UNITS_AT, FEED_WORD_AT = 0, 3, 6, 7


# places in `modes`
MOTION_AT, ABSOLUTE_AT, SAID_AT, NOTED_AT = 0, 1, 2, 3


SAID_FEED, SAID_MOTION = 1, 2


LETTER_X, LETTER_Y, LETTER_Z, LETTER_I, LETTER_J, LETTER_F, LETTER_G, LETTER_N, COMMENT = (
    1 << bit for bit in range(9)
)


AXIS_LETTER_BITS, CENTRE_LETTER_BITS = LETTER_X | LETTER_Y | LETTER_Z, LETTER_I | LETTER_J


NO_MOTION = -1


NOTHING = np.int64(0)
"""A 0 of a number's type: for a literal one compiled code would be made twice."""


LETTERS = np.zeros(256, np.int64)
for _letter, _bit in zip(
    "xyzijfgn",
    (LETTER_X, LETTER_Y, LETTER_Z, LETTER_I, LETTER_J, LETTER_F, LETTER_G, LETTER_N),
    strict=True,
):
    LETTERS[ord(_letter)] = LETTERS[ord(_letter.upper())] = _bit


(
    SPACE,
    TAB,
    LINE_FEED,
    CARRIAGE_RETURN,
    PLUS,
    MINUS,
    POINT,
    NOUGHT,
    NINE,
    OPENING_PARENTHESIS,
    CLOSING_PARENTHESIS,
) = (ord(c) for c in " \t\n\r+-.09()")


# which characters a comment may hold: none that closes or opens one, or cannot be printed
COMMENT_BYTES = np.zeros(256, np.bool_)
COMMENT_BYTES[SPACE:127] = COMMENT_BYTES[TAB] = True
COMMENT_BYTES[[OPENING_PARENTHESIS, CLOSING_PARENTHESIS]] = False


COMMENT_BYTES_BEYOND_ASCII = COMMENT_BYTES.copy()
COMMENT_BYTES_BEYOND_ASCII[128:] = True
"""The same where all characters of a text beyond ASCII can be printed, in the bytes of UTF-8."""


def _past_blanks(text: Bytes, p: int) -> int:
    """Return the next place that holds neither space nor tab."""
    while text[p] == SPACE or text[p] == TAB:
        p += 1
    return p


past_blanks = inner(_past_blanks)


def _past_digits(text: Bytes, p: int, end: int, mantissa: np.int64) -> tuple[int, np.int64]:
    """Return the place after digits, ``end`` at most, and the mantissa that goes on with them."""
    while p < end:
        digit = np.int64(text[p]) - NOUGHT
        if digit < 0 or digit > 9:
            break
        mantissa = 10 * mantissa + digit
        p += 1
    return p, mantissa


past_digits = inner(_past_digits)


def _read_plain(
    text: Bytes,
    at: int,
    line: int,
    numbers: Floats,
    modes: Ints,
    kind: Bytes,
    start: Floats,
    stop: Floats,
    centre: Floats,
    turns: Floats,
    feeds: Floats,
    lines: NDArray[np.int32],
    count: int,
    words: NDArray[np.bool_],
    notes: Ints,
) -> tuple[int, int, int]:
    """Read plain lines from byte ``at`` on; return where the first other line begins.

    Parameters
    ----------
    text : (B,) uint8
        The text up to where it is to be read; a line feed must end it.
    at, line : int
        Where a line begins, and its number.
    numbers : (8,) float
        Place (3), shift of G92 (3), mm in a unit, F; the place and F are brought up to date.
    modes : (4,) int
        Code of the motion in force or -1, 1 for G90; bits of what the lines have said and how many
        of them had comments are filled in.
    kind, start, stop, centre, turns, feeds, lines : (C, ...)
        Columns of motions, filled from ``count`` on.
    count : int
    words : (256,) bool
        Which bytes a comment may hold.
    notes : (K, 4) int
        The last comment of each line that has any: where it begins and ends, its line, and the
        motion that follows it. Filled from 0 on.

    Returns
    -------
    at, line, count : int
        Where the first line begins that was not read, its number, and how many motions there are.
    """
    x, y, z = numbers[PLACE_AT], numbers[PLACE_AT + 1], numbers[PLACE_AT + 2]
    shift_x, shift_y, shift_z = numbers[SHIFT_AT], numbers[SHIFT_AT + 1], numbers[SHIFT_AT + 2]
    units, feed = numbers[UNITS_AT], numbers[FEED_WORD_AT]
    motion, absolute, said = modes[MOTION_AT], modes[ABSOLUTE_AT], modes[SAID_AT]
    tolerance = TOLERANCE_MM if units == 1.0 else TOLERANCE_INCH * MM_PER_INCH
    size, room = len(text) - 1, len(kind)
    noted, most = 0, len(notes)
    while at < size and count < room and noted < most:
        # the words of the line; the line feed at the end of the text ends every search
        p, seen, plain, code = at, 0, True, motion
        word_x = word_y = word_z = word_i = word_j = 0.0
        word_f = feed
        opened = closed = at
        while True:
            p = past_blanks(text, p)
            byte = text[p]
            if byte == LINE_FEED:
                break
            if byte == CARRIAGE_RETURN and text[p + 1] == LINE_FEED:
                p += 1
                break
            if byte == OPENING_PARENTHESIS:
                opened = closed = p + 1
                while words[text[closed]]:
                    closed += 1
                if text[closed] != CLOSING_PARENTHESIS:
                    plain = False
                    break
                seen |= COMMENT
                p = closed + 1
                continue
            letter = LETTERS[byte]
            if letter == 0 or seen & letter or (letter == LETTER_N and seen):
                plain = False
                break
            seen |= letter
            p = past_blanks(text, p + 1)
            byte = text[p]
            negative = byte == MINUS
            signed = negative or byte == PLUS
            if signed:
                p += 1
            first = p
            p, mantissa = past_digits(text, p, p + DIGITS, NOTHING)
            before = digits = p - first
            pointed = text[p] == POINT
            if pointed:
                first = p + 1
                p, mantissa = past_digits(text, first, first + DIGITS - before, mantissa)
                digits += p - first
            p = past_blanks(text, p)
            byte = text[p]
            if digits == 0 or before > DIGITS_BEFORE_POINT or mantissa > MANTISSA_LIMIT:
                plain = False
                break
            if NOUGHT <= byte <= NINE or byte == POINT:
                plain = False
                break
            value = mantissa / POWERS[digits - before]
            if negative:
                value = -value
            if letter == LETTER_X:
                word_x = value
            elif letter == LETTER_Y:
                word_y = value
            elif letter == LETTER_Z:
                word_z = value
            elif letter == LETTER_I:
                word_i = value
            elif letter == LETTER_J:
                word_j = value
            elif letter == LETTER_F:
                word_f = value
            elif letter == LETTER_G:
                code = 10 * int(value) if 0.0 <= value < 4.0 else NO_MOTION
                if code < 0 or value != code // 10:
                    plain = False
                    break
            elif signed or pointed or digits > 5:
                plain = False
                break
        if not plain or p - at > LINE_LIMIT or not word_f >= 0.0:
            break
        p += 1
        before_line = count
        # what the line does
        if not seen & AXIS_LETTER_BITS:
            if seen & (LETTER_G | CENTRE_LETTER_BITS):
                break
        else:
            arc = code >= 20
            given = seen & (LETTER_X | LETTER_Y) and seen & CENTRE_LETTER_BITS
            if code == NO_MOTION or (arc and not given) or (not arc and seen & CENTRE_LETTER_BITS):
                break
            if code > 0 and not word_f > 0.0:
                break
            if absolute:
                to_x = word_x * units + shift_x if seen & LETTER_X else x
                to_y = word_y * units + shift_y if seen & LETTER_Y else y
                to_z = word_z * units + shift_z if seen & LETTER_Z else z
            else:
                to_x = x + word_x * units
                to_y = y + word_y * units
                to_z = z + word_z * units
            centre_x = centre_y = turned = 0.0
            if arc:
                centre_x = x + word_i * units
                centre_y = y + word_j * units
                out_x, out_y = x - centre_x, y - centre_y
                in_x, in_y = to_x - centre_x, to_y - centre_y
                begun = math.sqrt(out_x * out_x + out_y * out_y)
                ended = math.sqrt(in_x * in_x + in_y * in_y)
                if not (begun > LEAST_RADIUS_MM and ended > LEAST_RADIUS_MM):
                    break
                if not abs(begun - ended) <= tolerance:
                    break
                angle = math.atan2(out_x * in_y - out_y * in_x, out_x * in_x + out_y * in_y)
                gap_x, gap_y = to_x - x, to_y - y
                if math.sqrt(gap_x * gap_x + gap_y * gap_y) < ONE_PLACE_MM:
                    angle = 0.0
                full = 2 * math.pi
                if code == 20:
                    turned = (angle if angle < 0 else angle - full) / full
                else:
                    turned = (angle if angle > 0 else angle + full) / full
            kind[count] = RAPID if code == 0 else ARC if arc else FEED
            start[count, 0], start[count, 1], start[count, 2] = x, y, z
            stop[count, 0], stop[count, 1], stop[count, 2] = to_x, to_y, to_z
            centre[count, 0], centre[count, 1] = centre_x, centre_y
            turns[count] = turned
            feeds[count] = word_f * units if code > 0 else 0.0
            lines[count] = line
            count += 1
            x, y, z = to_x, to_y, to_z
        if seen & COMMENT:
            notes[noted, 0], notes[noted, 1], notes[noted, 2] = opened, closed, line
            notes[noted, 3] = before_line
            noted += 1
        if seen & LETTER_F:
            feed = word_f
            said |= SAID_FEED
        if seen & LETTER_G:
            motion = code
            said |= SAID_MOTION
        at, line = p, line + 1
    numbers[PLACE_AT], numbers[PLACE_AT + 1], numbers[PLACE_AT + 2] = x, y, z
    numbers[FEED_WORD_AT] = feed
    modes[MOTION_AT], modes[SAID_AT], modes[NOTED_AT] = motion, said, noted
    return at, line, count


read_plain = outer(_read_plain)
"""Compiled; nothing is divided by 0, and no other compiled code calls it."""


_MOTIONS = (RAPID_G0, STRAIGHT_G1, *ARCS, None)


_COLUMNS = ("kind", "start", "stop", "centre", "turns", "feed", "line")


_FIRST_LETTERS = frozenset(b"gGxXyYzZnNfF( \t\r\n")


LEAST_LINE_BYTES = 3
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
        self._words = COMMENT_BYTES_BEYOND_ASCII if _is_printable(data) else COMMENT_BYTES
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
        record.room(min(_CHUNK, (len(self._bytes) - at) // LEAST_LINE_BYTES + 1))
        self._pack(state)
        columns = [record.columns[name] for name in _COLUMNS]
        at, line, count = read_plain(
            self._bytes, at, line, self._numbers, self._modes, *columns, before,
            self._words, self._notes,
        )  # fmt: skip
        if count > before:
            record.take(int(count), state)
        noted = int(self._modes[NOTED_AT])
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
        motion = NO_MOTION if state.motion is None else state.motion
        modes[:] = motion, state.absolute, 0, 0

    def _unpack(self, state: State) -> None:
        state.x, state.y, state.z, *_, state.feed = self._numbers.tolist()
        motion, _, said, _ = self._modes.tolist()
        state.motion = None if motion == NO_MOTION else motion
        if said & SAID_FEED:
            state.given |= modal_state.FEED_BIT
        if said & SAID_MOTION:
            state.given |= modal_state.MOTION_BIT


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
        and not state.side
        and not state.inverse_time
        and state.plane == XY_G17
        and state.motion in _MOTIONS
    )
