"""What is to be made: the blade, its outline, bevels and openings, in the part frame."""

from knifecam.blade.bevel import (
    CONVEX,
    FLAT,
    HOLLOW,
    Bevel,
    Plunge,
    edge_height,
    grind_height,
    height_at,
    slope_at,
)
from knifecam.blade.blade import Blade, Bore, EdgeBreak, Slot, Steel
from knifecam.blade.finished_surface import (
    bevel_height,
    bevelled,
    edge_distance,
    half_thickness,
    past_plunge,
    plunge_rise,
    prolonged_edge,
)
from knifecam.blade.jimping import Jimping

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
