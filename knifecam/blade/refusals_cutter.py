"""Which cutters cannot make a blade: recurves, plunges and inner corners too tight for them."""

from __future__ import annotations

from knifecam.blade.blade import Blade
from knifecam.blade.cutter_limits import SAME, inner_corner
from knifecam.quantity import mm


def break_cutter_refused(blade: Blade, *, axis: float) -> tuple[str, ...]:
    """Return which breaks have inner corners that a mill with its axis ``axis`` mm off keeps."""
    return tuple(
        f"edge break '{broken.name}': an inner corner of radius {mm(inner_corner(broken, blade)):.3f}"
        f" of {broken.of} is out of reach of an axis {mm(axis):.3f} off the wall; end the stretch"
        " before it, or use a mill with a smaller tip"
        for broken in blade.breaks
        if not inner_corner(broken, blade) >= axis - SAME
    )
