"""Quantities in lines of text: each is written in mm and in inches, until the line is told in one.

Whoever finds that something is wrong knows how large it is, but not in which unit the maker thinks.
So a line carries both, apart by characters that no text of ours or of a drawing holds, and where it
leaves knifecam, as an error, a finding, a remark or a line for the screen, `told` keeps one of them.

    >>> line = f"a tab is {mm(0.4):.3f} thick at {bare(12.7):.1f}, {bare(25.4):.1f}"
    >>> told(line, "mm"), told(line, "in")
    ('a tab is 0.400 mm thick at 12.7, 25.4', 'a tab is 0.0157 in thick at 0.50, 1.00')

A line also carries the paths of the order's values that it rests on. Whoever writes a value by
`stated` or `keyed` marks it; `told` drops the marks, `rests_on` reads them.

    >>> line = f"{stated('tabs.thickness', mm(0.4)):g} must be less than {keyed('tabs.waist', mm(1)):g}"
    >>> told(line), rests_on(line)
    ('tabs.thickness=0.4 mm must be less than waist=1 mm', ('tabs.thickness', 'tabs.waist'))

Where one room writes about a thing that another knows by a better name, it marks the thing's own
name by `named`; whoever knows better puts that in place by `renamed`.

    >>> line = f"{named('role bores', 'bores')}: the chain is open"
    >>> told(line), told(renamed(line, {"role bores": "drawing.bores"}))
    ('bores: the chain is open', 'drawing.bores: the chain is open')
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from math import ceil, floor

BEGIN, OR, END = "\x01", "\x02", "\x03"
"""Round a part of a line that differs by unit: control characters, which no name may hold."""

PATH_BEGIN, PATH_END = "\x04", "\x05"
"""Round the path of a value that a line rests on."""

THING_BEGIN, NAME_BEGIN, NAME_END = "\x06", "\x0e", "\x0f"
"""Round a thing and its name, which whoever knows the thing by a better one may replace."""

_PATH_MARK = re.compile(f"{PATH_BEGIN}([^{PATH_END}]*){PATH_END}")
_NAME_MARK = re.compile(f"{THING_BEGIN}([^{NAME_BEGIN}]*){NAME_BEGIN}([^{NAME_END}]*){NAME_END}")


def told(text: str, units: str = "mm") -> str:
    """Return a line in one unit, "mm" or "in", without the marks of paths and names."""
    first, *rest = _NAME_MARK.sub(r"\2", _PATH_MARK.sub("", text)).split(BEGIN)
    kept = [first]
    for one in rest:
        both, _, after = one.partition(END)
        metric, _, inch = both.partition(OR)
        kept += [inch if units == "in" else metric, after]
    return "".join(kept)


def either(metric: str, inch: str) -> str:
    """Return text that is ``metric`` in a line told in mm, ``inch`` in one told in inches."""
    return f"{BEGIN}{metric}{OR}{inch}{END}"


def rests_on(text: str) -> tuple[str, ...]:
    """Return the paths of the order's values that a line rests on, each once."""
    return tuple(dict.fromkeys(_PATH_MARK.findall(text)))


def basis(*paths: str) -> str:
    """Return marks that nobody sees: the line they stand in rests on these values."""
    return "".join(f"{PATH_BEGIN}{path}{PATH_END}" for path in paths)


def named(thing: str, name: str) -> str:
    """Return a name that `renamed` replaces where the ``thing`` has a better one."""
    return f"{THING_BEGIN}{thing}{NAME_BEGIN}{name}{NAME_END}"


def renamed(text: str, names: Mapping[str, str]) -> str:
    """Return a line with the better ``names`` of things in it; other things keep theirs."""
    return _NAME_MARK.sub(lambda mark: names.get(mark[1], mark[0]), text)


@dataclass(frozen=True, slots=True)
class Stated:
    """A value of the order under its name; the line it stands in rests on ``path``."""

    path: str
    name: str
    value: object

    def __format__(self, spec: str) -> str:
        """Return "name=value" and the mark; ``spec`` is the value's."""
        return f"{self.name}={format(self.value, spec)}{basis(self.path)}"

    def __str__(self) -> str:
        """Return it with the value as it is."""
        return format(self, "")


def stated(path: str, value: object) -> Stated:
    """Return a value to be written as "table.key=value"."""
    return Stated(path, path, value)


def keyed(path: str, value: object) -> Stated:
    """Return a value to be written as "key=value", where the line has named the table before."""
    return Stated(path, path.rpartition(".")[2], value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit and its inch fellow: ``size`` of the one make the other, told with ``more`` digits.

    ``plain`` digits are told at most where a figure has no format of its own.
    """

    metric: str
    inch: str
    size: float
    more: int
    plain: int = 5


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, written by a format specification as the number alone would be.

    ``rounded`` takes an inch fellow to whole last digits: a least is rounded up, a most down, so
    that the figure told keeps the limit that it tells.
    """

    value: float
    unit: Unit
    rounded: Callable[[float], int] = round
    named: bool = True

    def __format__(self, spec: str) -> str:
        """Return both ways of writing it; ``spec`` says how in mm."""
        metric, inch = self._metric(spec), self._inches(spec)
        if not self.named:
            return either(metric, inch)
        return either(f"{metric} {self.unit.metric}", f"{inch} {self.unit.inch}")

    def __str__(self) -> str:
        """Return both ways of writing it, all digits kept."""
        return format(self, "")

    def _metric(self, spec: str) -> str:
        """Return it in its own unit; a limit told with so many decimals is one that would do."""
        if self.rounded is round or not spec.endswith("f"):
            return format(self.value, spec)
        return format(_whole(self.value, int(spec[:-1].partition(".")[2]), self.rounded), spec)

    def _inches(self, spec: str) -> str:
        """Return it in the inch fellow, with as many decimals as it needs where ``spec`` has none."""
        value = self.value / self.unit.size
        if spec.endswith("f"):
            head, _, decimals = spec[:-1].partition(".")
            digits = max(0, int(decimals) + self.unit.more)
            return f"{_whole(value, digits, self.rounded):{head}.{digits}f}"
        if spec not in ("", "g"):
            return format(value, spec)
        digits = self.unit.plain + (0 if abs(value) >= 10**-self.unit.plain else 2)
        text = f"{_whole(value, digits, self.rounded):.{digits}f}"
        return text.rstrip("0").rstrip(".")


def _whole(value: float, digits: int, rounded: Callable[[float], int]) -> float:
    """Return a number rounded to so many decimals; noise below a millionth of the last is none."""
    scaled = round(value * 10**digits, 6)
    return rounded(scaled) / 10**digits + 0.0 if math.isfinite(scaled) else value


@dataclass(frozen=True, slots=True)
class Place:
    """A place in the plane, mm, written as "(x, y)" by a format specification of its figures."""

    x: float
    y: float

    def __format__(self, spec: str) -> str:
        """Return both ways of writing it."""
        return f"({bare(self.x):{spec}}, {bare(self.y):{spec}})"


UNITS_BY_METRIC = {
    one.metric: one
    for one in (
        Unit(metric="mm", inch="in", size=25.4, more=1),
        Unit(metric="um", inch="uin", size=0.0254, more=-1, plain=1),
        Unit(metric="mm2", inch="in2", size=25.4**2, more=3),
        Unit(metric="mm3", inch="in3", size=25.4**3, more=4),
        Unit(metric="mm3/min", inch="in3/min", size=25.4**3, more=4),
        Unit(metric="mm/min", inch="in/min", size=25.4, more=1),
        Unit(metric="mm/s^2", inch="in/s^2", size=25.4, more=1),
        Unit(metric="m/min", inch="ft/min", size=0.3048, more=0),
        Unit(metric="N", inch="lbf", size=4.4482216152605, more=1),
        Unit(metric="N mm", inch="in lbf", size=112.98482902761669, more=1),
    )
}
"""What inch shops have another unit for, by its metric name.

An inch is 25.4 mm, a pound 0.45359237 kg (both exact, 1959), a pound-force that under the standard
gravity of 9.80665 m/s2 (3rd CGPM, 1901): 4.4482216152605 N, and an inch of it 112.98482902761669 N mm.
"""


def name_of(unit: str) -> str:
    """Return the name of a unit with a space before it, to stand behind figures written without."""
    return either(f" {UNITS_BY_METRIC[unit].metric}", f" {UNITS_BY_METRIC[unit].inch}")


NAME = name_of("mm")
"""Behind a length, or a place."""

mm, um, mm2, mm3 = (
    partial(Quantity, unit=UNITS_BY_METRIC[name]) for name in ("mm", "um", "mm2", "mm3")
)
"""A number in that unit, to be written into a line."""

least_mm, most_mm = (
    partial(Quantity, unit=UNITS_BY_METRIC["mm"], rounded=way) for way in (ceil, floor)
)
"""mm that would do where at least, or at most, so much is wanted."""


def bare(value: float, unit: str = "mm") -> Quantity:
    """Return a number in ``unit``, to be written without its name."""
    return Quantity(value, UNITS_BY_METRIC[unit], named=False)


def moments(low: float | None, high: float | None) -> str:
    """Return the moments that snap a tab, least and most, N mm: "150 to 210 N mm".

    They are told to two digits: no bend strength is known more closely.

    >>> told(moments(153.2, 214.5)), told(moments(153.2, 214.5), "in")
    ('150 to 210 N mm', '1.3 to 1.9 in lbf')
    """
    if low is None or high is None:
        return "an unknown moment"
    least, most = (float(f"{value:.2g}") for value in (low, high))
    return f"{bare(least, 'N mm'):.0f} to {quantity(most, 'N mm'):.0f}"


def over_fixture(height: float, digits: int) -> str:
    """Return where a cut ends, mm above the fixture, to so many digits of a mm: no height is below 0.

    >>> told(over_fixture(0.25, 3)), told(over_fixture(-0.0959, 4))
    ('0.250 mm above the fixture', '0.0959 mm into the fixture')
    """
    way = "into" if height < 0 else "above"
    return f"{mm(abs(height)):.{digits}f} {way} the fixture"


def quantity(value: float, unit: str) -> Quantity | float:
    """Return a number in ``unit``, to be written; bare where it is the same to an inch shop."""
    return Quantity(value, UNITS_BY_METRIC[unit]) if unit in UNITS_BY_METRIC else value
