"""G and M codes, their modal groups, and the three planes.

Codes are kept ten times their value as integers: G92.1 is 921, M5 is 50.

References: NISTIR 6556, Table 4 (modal groups), Tables 5 and 7 (codes).

References: NISTIR 6556, 3.5.3 (arcs) and the order of axes in its reference interpreter.
"""

from __future__ import annotations

from knifecam.errors import ProgramError
from knifecam.rs274.rs274_limits import CLOSE_TO_INTEGER

RAPID_G0, STRAIGHT_G1, CLOCKWISE_G2, COUNTER_CLOCKWISE_G3 = 0, 10, 20, 30


PROBE_G38_2, NO_MOTION_G80 = 382, 800


DWELL_G4, SET_OFFSET_G10, HOME_G28, HOME_G30, MACHINE_G53 = 40, 100, 280, 300, 530


SHIFT_G92, CLEAR_G92_1, SUSPEND_G92_2, RESTORE_G92_3 = 920, 921, 922, 923


XY_G17, XZ_G18, YZ_G19 = 170, 180, 190


INCHES_G20, MILLIMETRES_G21 = 200, 210


LENGTH_G43, NO_LENGTH_G49 = 430, 490


ABSOLUTE_G90, INCREMENTAL_G91 = 900, 910


INVERSE_TIME_G93, PER_MINUTE_G94 = 930, 940


NO_COMPENSATION_G40, LEFT_G41, RIGHT_G42 = 400, 410, 420


TO_OLD_G98, TO_R_G99 = 980, 990


CYCLES = tuple(range(810, 900, 10))


DRILL_G81, DWELL_G82, PECK_G83, TAP_G84, BORE_G85 = CYCLES[:5]


BORE_STOP_G86, BACK_BORE_G87, BORE_BY_HAND_G88, BORE_DWELL_G89 = CYCLES[5:]


DWELLING = (DWELL_G82, BORE_STOP_G86, BORE_BY_HAND_G88, BORE_DWELL_G89)
"""The cycles that take P."""


ARCS = (CLOCKWISE_G2, COUNTER_CLOCKWISE_G3)


AXIS_USERS = (SET_OFFSET_G10, HOME_G28, HOME_G30, SHIFT_G92)
"""Codes of group 0 that use the axis words of their line."""


OFFSET_CODES = (540, 550, 560, 570, 580, 590, 591, 592, 593)
"""The nine work offsets, 1..9."""


ZERO_GROUP, MOTION_GROUP, PLANE_GROUP, DISTANCE_GROUP, FEED_MODE_GROUP, UNITS_GROUP = (
    0,
    1,
    2,
    3,
    5,
    6,
)


COMPENSATION_GROUP, LENGTH_GROUP, RETURN_GROUP, OFFSET_GROUP, PATH_GROUP = 7, 8, 10, 12, 13


STOP_GROUP, CHANGE_GROUP, SPINDLE_GROUP, COOLANT_GROUP, OVERRIDE_GROUP = 4, 6, 7, 8, 9


_G_GROUPS = {
    ZERO_GROUP: (40, 100, 280, 300, 530, 920, 921, 922, 923),
    MOTION_GROUP: (0, 10, 20, 30, 382, 800, *CYCLES),
    PLANE_GROUP: (170, 180, 190),
    DISTANCE_GROUP: (900, 910),
    FEED_MODE_GROUP: (930, 940),
    UNITS_GROUP: (200, 210),
    COMPENSATION_GROUP: (NO_COMPENSATION_G40, LEFT_G41, RIGHT_G42),
    LENGTH_GROUP: (430, 490),
    RETURN_GROUP: (TO_OLD_G98, TO_R_G99),
    OFFSET_GROUP: OFFSET_CODES,
    PATH_GROUP: (610, 611, 640),
}


_M_GROUPS = {
    STOP_GROUP: (0, 10, 20, 300, 600),
    CHANGE_GROUP: (60,),
    SPINDLE_GROUP: (30, 40, 50),
    COOLANT_GROUP: (70, 80, 90),
    OVERRIDE_GROUP: (480, 490),
}


GROUP_OF_G = {code: group for group, codes in _G_GROUPS.items() for code in codes}


GROUP_OF_M = {code: group for group, codes in _M_GROUPS.items() for code in codes}


def g_name(code: int) -> str:
    """Return the G code as it is written: 10 is G1, 921 is G92.1."""
    return f"G{code // 10}" if code % 10 == 0 else f"G{code // 10}.{code % 10}"


def m_name(code: int) -> str:
    """Return the M code as it is written: 50 is M5."""
    return f"M{code // 10}"


def _spelled() -> tuple[dict[str, int], dict[str, int]]:
    g = {g_name(code)[1:]: code for code in GROUP_OF_G}
    m = {m_name(code)[1:]: code for code in GROUP_OF_M}
    padded_g = {"0" + text: code for text, code in g.items() if code < 100}
    padded_m = {"0" + text: code for text, code in m.items() if code < 100}
    return g | padded_g, m | padded_m


SPELLED_G, SPELLED_M = _spelled()
"""The usual spellings and their codes; other spellings of the same number are worked out."""


def integer(value: float, name: str) -> int:
    """Return the integer ``value`` is close to.

    Raises
    ------
    ProgramError
        Where it is further than `CLOSE_TO_INTEGER` from every integer.
    """
    nearest = round(value)
    if not abs(value - nearest) <= CLOSE_TO_INTEGER:
        raise ProgramError(f"{name}={value:g} must be an integer")
    return nearest


def g_code(value: float) -> int:
    """Return the code (ten times the number) of a G word, or refuse it."""
    if not 0 <= value <= 99.9 + CLOSE_TO_INTEGER / 10:
        raise ProgramError(f"G{value:g} must be from G0 to G99.9")
    code = round(value * 10)
    if not abs(value * 10 - code) <= CLOSE_TO_INTEGER:
        raise ProgramError(f"G{value:.10g} must have one decimal at most")
    if code not in GROUP_OF_G:
        raise ProgramError(f"{g_name(code)} is not a code of RS274/NGC")
    return code


def m_code(value: float) -> int:
    """Return the code (ten times the number) of an M word, or refuse it."""
    if not 0 <= value <= 99 + CLOSE_TO_INTEGER:
        raise ProgramError(f"M{value:g} must be from M0 to M99")
    code = 10 * integer(value, "M")
    if code not in GROUP_OF_M:
        raise ProgramError(f"{m_name(code)} is not a code of RS274/NGC")
    return code


AXES_OF = {XY_G17: (0, 1, 2), XZ_G18: (2, 0, 1), YZ_G19: (1, 2, 0)}
"""First and second axis of a plane, and the axis across it, right-handed: so G18 is Z, X, Y."""


CENTRE_LETTERS = "ijk"
"""The letters that lead to centres, along X, Y and Z."""


Place = tuple[float, float, float]


def placed(place: Place, axis: int, value: float) -> Place:
    """Return the place with one coordinate changed."""
    x, y, z = place
    return (value, y, z) if axis == 0 else (x, value, z) if axis == 1 else (x, y, value)
