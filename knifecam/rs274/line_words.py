"""One line of a program: comments, words and parameter settings.

References: NISTIR 6556, 3.3 and Table 3; the limit of a line is that of the report's reference
interpreter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from knifecam.errors import ProgramError
from knifecam.rs274.codes import (
    GROUP_OF_G,
    GROUP_OF_M,
    SPELLED_G,
    SPELLED_M,
    g_code,
    g_name,
    integer,
    m_code,
    m_name,
)
from knifecam.rs274.expressions import Lookup, real_value
from knifecam.rs274.rs274_limits import LARGEST_WORD

LINE_LIMIT = 253
"""Characters a line may have; the carriage return before a line feed counts."""

PARAMETER_LIMIT = 5399
HOMES = (*range(5161, 5167), *range(5181, 5187))
"""Parameters that hold the places G28 and G30 go to; no word but a setting changes them."""

PROTECTED = frozenset(range(5161, 5391)) - frozenset(HOMES)
"""Parameters that hold shifts and work offsets."""

MOST_M_WORDS = 4

_WORD_LETTERS = frozenset("abcdfghijklmpqrstxyz")
_SHORT_NUMBER = r"[+-]?(?:[0-9]{1,9}+(?:\.[0-9]*+)?|\.[0-9]++)"
"""As `NUMBER`, and smaller than `LARGEST_WORD`."""

_PLAIN_WORD = rf"[abcdfghijklmpqrstxyz]{_SHORT_NUMBER}"
_PLAIN = re.compile(rf"(?:n[0-9]{{1,5}}+(?![0-9]))?+((?:{_PLAIN_WORD})*+)")
_WORD = re.compile(rf"([a-z])({_SHORT_NUMBER})")
_LINE_NUMBER = re.compile(r"n([0-9]*+)")
_RARE = frozenset("dhlpqst")
_BOUNDED = _RARE | {"f"}
_COMMENT_MARK = "()"

Codes = Mapping[int, int]
"""Code by modal group."""

_NO_CODES: Codes = {}
_ALONE_G: dict[str, Codes] = {text: {GROUP_OF_G[code]: code} for text, code in SPELLED_G.items()}
_ALONE_M: dict[str, Codes] = {text: {GROUP_OF_M[code]: code} for text, code in SPELLED_M.items()}


class Block:
    """What one line says: codes by modal group, values by letter, settings, the last comment."""

    __slots__ = ("comment", "g", "m", "settings", "skipped", "words")

    def __init__(self, words: Mapping[str, float], g: Codes, m: Codes) -> None:
        self.words = words
        self.g = g
        self.m = m
        self.settings: Sequence[tuple[int, float]] = ()
        self.comment: str | None = None
        self.skipped = False


def read_block(raw: str, lookup: Lookup) -> Block:
    """Return what the line says.

    Parameters
    ----------
    raw : str
        The line without its line feed.
    lookup : callable
        Gives the value of the parameter of an index.

    Raises
    ------
    ProgramError
        For everything that is not well formed, for codes that do not exist, and for repeats.
    """
    comment = None
    if len(raw) > LINE_LIMIT or not raw.isascii():
        _check_length(raw)
    if "(" in raw or ")" in raw:
        raw, comment = _without_comments(raw)
    text = raw.replace(" ", "").replace("\t", "").removesuffix("\r").lower()
    plain = _PLAIN.fullmatch(text)
    if plain and raw.isascii():
        block = _plain_block(_WORD.findall(plain[1]))
    else:
        block = _any_block(raw, text, lookup)
    block.comment = comment
    words = block.words
    if ("f" in words and not words["f"] >= 0) or not _RARE.isdisjoint(words):
        _check_values(words)
    return block


def _plain_block(pairs: list[tuple[str, str]]) -> Block:
    """Return the block of words that are letters with plain numbers."""
    once = dict(pairs)
    g = m = _NO_CODES
    if len(once) == len(pairs):
        if "g" in once:
            g = _ALONE_G.get(once.pop("g"), _NO_CODES)
        if "m" in once:
            m = _ALONE_M.get(once.pop("m"), _NO_CODES)
        if len(g) + len(m) + len(once) == len(pairs):
            return Block({letter: float(digits) for letter, digits in once.items()}, g, m)
    return _block_of([(letter, float(digits)) for letter, digits in pairs])


def _block_of(pairs: Iterable[tuple[str, float]]) -> Block:
    words: dict[str, float] = {}
    g: dict[int, int] = {}
    m: dict[int, int] = {}
    for letter, value in pairs:
        if letter == "g":
            _take_g(g, g_code(value))
        elif letter == "m":
            _take_m(m, m_code(value))
        else:
            _take_word(words, letter, value)
    return Block(words, g, m)


def setting(index: float) -> int:
    """Return the number of the parameter, 1..5399.

    Raises
    ------
    ProgramError
        For a number that is not an integer in that range.
    """
    number = integer(index, "parameter number") if abs(index) < LARGEST_WORD else 0
    if not 1 <= number <= PARAMETER_LIMIT:
        raise ProgramError(f"parameter #{index:g} must be from #1 to #{PARAMETER_LIMIT}")
    return number


def _check_length(raw: str) -> None:
    length = len(raw.encode("utf-8", "surrogatepass"))
    if not length <= LINE_LIMIT:
        raise ProgramError(f"line of {length} characters: {LINE_LIMIT} are allowed; split it")


def _without_comments(raw: str) -> tuple[str, str]:
    """Return the line with every comment emptied, and the text of the last one."""
    pieces: list[str] = []
    comment, at = "", 0
    while True:
        opened, closed = raw.find("(", at), raw.find(")", at)
        if closed >= 0 and not 0 <= opened < closed:
            raise ProgramError("')' closes no comment")
        if opened < 0:
            return "".join(pieces) + raw[at:], comment
        inner = raw.find("(", opened + 1)
        if inner >= 0 and (closed < 0 or inner < closed):
            raise ProgramError("'(' stands inside a comment; comments cannot nest")
        if closed < 0:
            raise ProgramError("a comment must be closed on its line")
        comment = raw[opened + 1 : closed]
        if not comment.replace("\t", "").isprintable():
            raise ProgramError("a comment holds a character that cannot be printed")
        pieces += [raw[at:opened], _COMMENT_MARK]
        at = closed + 1


def _any_block(raw: str, text: str, lookup: Lookup) -> Block:
    """Return the block of a line that may hold expressions, settings, comments, a slash."""
    for character in raw:
        if not character.isascii():
            raise ProgramError(f"character {character!a} is not of RS274/NGC")
    pairs: list[tuple[str, float]] = []
    settings: list[tuple[int, float]] = []
    at = 1 if text.startswith("/") else 0
    if text.startswith("n", at):
        at = _line_number_end(text, at)
    while at < len(text):
        letter = text[at]
        if text.startswith(_COMMENT_MARK, at):
            at += len(_COMMENT_MARK)
        elif letter == "#":
            index, value, at = _setting_at(text, at, lookup)
            settings.append((index, value))
        elif letter in _WORD_LETTERS:
            value, at = real_value(text, at + 1, lookup)
            pairs.append((letter, value))
        else:
            raise ProgramError(_stray_character(letter))
    block = _block_of(pairs)
    block.settings = settings
    block.skipped = text.startswith("/")
    return block


def _stray_character(letter: str) -> str:
    if letter == "n":
        return "a line number must stand first in its line"
    shown = repr(letter.upper())
    return f"character {shown} is not of RS274/NGC, or does not stand where it may"


def _line_number_end(text: str, at: int) -> int:
    match = _LINE_NUMBER.match(text, at)
    digits = match[1] if match else ""
    if not digits:
        raise ProgramError("N must be followed by 1 to 5 digits")
    if not len(digits) <= 5:
        raise ProgramError(f"line number N{digits[:12]} must have 5 digits at most")
    return at + 1 + len(digits)


def _setting_at(text: str, at: int, lookup: Lookup) -> tuple[int, float, int]:
    index, at = real_value(text, at + 1, lookup)
    number = setting(index)
    if not text.startswith("=", at):
        raise ProgramError(f"'=' must follow #{number} where a parameter is set")
    value, at = real_value(text, at + 1, lookup)
    if number in PROTECTED:
        raise ProgramError(f"#{number} holds a shift or a work offset; use G10 or G92")
    return number, value, at


def _take_word(words: dict[str, float], letter: str, value: float) -> None:
    if letter in words:
        raise ProgramError(f"{letter.upper()} stands twice in the line")
    if not -LARGEST_WORD <= value <= LARGEST_WORD:
        raise ProgramError(f"{letter.upper()}={value:g} is larger than {LARGEST_WORD:g}")
    words[letter] = value


def _take_g(taken: dict[int, int], code: int) -> None:
    group = GROUP_OF_G[code]
    if group in taken:
        pair = f"{g_name(taken[group])} and {g_name(code)}"
        raise ProgramError(f"{pair} are of one modal group; one may stand in a line")
    taken[group] = code


def _take_m(taken: dict[int, int], code: int) -> None:
    group = GROUP_OF_M[code]
    if len(taken) == MOST_M_WORDS:
        raise ProgramError(f"more than {MOST_M_WORDS} M words stand in the line")
    if group in taken:
        pair = f"{m_name(taken[group])} and {m_name(code)}"
        raise ProgramError(f"{pair} are of one modal group; one may stand in a line")
    taken[group] = code


def _check_values(words: Mapping[str, float]) -> None:
    for letter in sorted(_BOUNDED.intersection(words)):
        value, name = words[letter], letter.upper()
        if letter in "dhlt":
            value = integer(value, name)
        if letter == "q" and not value > 0:
            raise ProgramError(f"Q={value:g} must be greater than 0")
        if not value >= 0:
            raise ProgramError(f"{name}={value:g} must not be negative")
