"""What is to be made: the blade, its outline, bevels and openings, in the part frame."""

from knifecam.blade.bevel import CONVEX, FLAT, HOLLOW, Bevel, Plunge
from knifecam.blade.blade import Blade, Bore, Slot, Steel
from knifecam.blade.edge_break import EdgeBreak
from knifecam.blade.jimping import Jimping
from knifecam.blade.profile import edge_height, grind_height, height_at, slope_at
from knifecam.blade.surface import (
    bevel_height,
    bevelled,
    edge_distance,
    half_thickness,
    past_plunge,
    plunge_rise,
    prolonged_edge,
)

__all__ = [
    "CONVEX",
    "FLAT",
    "HOLLOW",
    "Bevel",
    "Blade",
    "Bore",
    "EdgeBreak",
    "Jimping",
    "Plunge",
    "Slot",
    "Steel",
    "bevel_height",
    "bevelled",
    "edge_distance",
    "edge_height",
    "grind_height",
    "half_thickness",
    "height_at",
    "past_plunge",
    "plunge_rise",
    "prolonged_edge",
    "slope_at",
]
