"""Hostile program texts, each a few lines and made from a seed."""

from __future__ import annotations

import random

G_CODES = (
    "0", "1", "2", "3", "4", "10", "17", "18", "19", "20", "21", "28", "30", "38.2", "40", "41",
    "42", "43", "49", "53", "54", "55", "59.1", "59.3", "61", "61.1", "64", "80", "81", "82", "83",
    "84", "85", "86", "87", "88", "89", "90", "91", "92", "92.1", "92.2", "92.3", "93", "94", "98",
    "99",
)  # fmt: skip
M_CODES = ("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "30", "48", "49", "60")
NUMBERS = (
    "0", "1", "2", "-1", "0.5", "-0.5", "3", "10", "1e3", "999999999", "-999999999", "1000000000",
    "0.000000001", "-0", "00", ".", "[1/3]", "[2**0.5]", "#1", "##2", "[0-1]", "sin[30]",
    "atan[1]/[2]", "99999999999999999999", "[exp[700]]", "nan", "inf", "[1/0]", "5399", "[9**9]",
)  # fmt: skip
EXTRA = (
    "\x00", "\r", "\ufeff", "é", "(", "(a)", ")", "/", "%", "#1=2", "#2=1", "#5161=4", "\t", " ",
    "\x0b", "\x1f", ";", "[", "]",
)  # fmt: skip
TEMPLATES = (
    "G81 X{} Y{} Z{} R{}", "G83 X{} Z{} R{} Q{}", "G87 X{} Y{} Z{} R{} I{} J{} K{}",
    "G82 X{} Z{} R{} P{} L{}", "G2 X{} Y{} I{} J{}", "G3 X{} Y{} R{}", "G18 G2 X{} Z{} I{} K{}",
    "G19 G3 Y{} Z{} R{}", "G41 D{} G1 X{}", "G1 X{} Y{}", "G42 D{} G0 X{} Y{}", "G10 L2 P{} X{}",
    "G92 X{} Z{}", "G28 X{}", "G30", "G38.2 Z{}", "G53 G0 Z{}", "G88 X{} Z{} R{} P{}",
    "G86 X{} Z{} R{} P{}", "G84 X{} Z{} R{}", "G4 P{}", "G91", "G90", "G20", "G21", "G40",
    "G43 H{}", "F{}", "X{} Y{}", "X{} L{}", "M3", "G17", "G18", "G19", "#{}={}",
)  # fmt: skip
HEADS = (
    "G21 G17 G90 G94 G54 G49 F100\nG0 X0 Y0 Z5\n",
    "G21 G17 G90 G94 G54 G49 F100 M3 S1\nG0 X0 Y0 Z5\nG41 D2 G1 X10\n",
    "",
    "G20 G18 G91 F10\n",
    "%\n",
)


def number(chance: random.Random, tame: bool) -> str:
    share = chance.random()
    if share < 0.45:
        return str(chance.randrange(-3, 12))
    if share < (0.985 if tame else 0.7):
        return f"{chance.uniform(-2, 9):.{chance.randrange(5)}f}"
    return chance.choice(NUMBERS)


def word(chance: random.Random, tame: bool) -> str:
    share = chance.random()
    if share < 0.3:
        return "G" + chance.choice(G_CODES)
    if share < 0.4:
        return "M" + chance.choice(M_CODES)
    if share < 0.43:
        return chance.choice(EXTRA)
    return chance.choice("XYZXYZXYZIJKRRFFPQLDHTSNABC") + number(chance, tame)


def line(chance: random.Random, tame: bool) -> str:
    if chance.random() < (0.97 if tame else 0.6):
        text = chance.choice(TEMPLATES)
        while "{}" in text:
            text = text.replace("{}", number(chance, tame), 1)
        if chance.random() < (0.02 if tame else 0.15):
            text += " " + word(chance, tame)
    else:
        text = " ".join(word(chance, tame) for _ in range(chance.randrange(1, 7)))
    if chance.random() < (0.004 if tame else 0.03):
        k = chance.randrange(len(text) + 1)
        text = text[:k] + chance.choice(EXTRA) + text[k:]
    return text


def program(seed: int) -> str:
    """Return the text of a seed: three in five are nearly right, so that they are carried out."""
    chance = random.Random(seed)
    tame = chance.random() < 0.6
    lines = [line(chance, tame) for _ in range(chance.randrange(1, 4 if tame else 7))]
    head = chance.choice(HEADS[:2] if tame else HEADS)
    end = "M2" if tame else chance.choice(["M2\n", "M30", "%", "", "M2", "(x)\n%\n"])
    return head + "\n".join(lines) + "\n" + end
