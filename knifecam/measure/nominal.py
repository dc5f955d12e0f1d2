"""What the order wants, in the part frame: the figures the judge measures against."""

from __future__ import annotations

from dataclasses import dataclass

from knifecam.blade import Bore
from knifecam.curve import Curve, circle
from knifecam.shop import Order


@dataclass(frozen=True, slots=True, kw_only=True)
class Nominal:
    """Wanted geometry, mm, part frame.

    ``face_a`` and ``face_b`` are the heights of the plate's faces. Side A's trench ends at
    ``floor_a``, side B comes up to ``floor_b`` above it: between them the sides overlap. Tabs lie
    between ``tab_low`` and ``floor_a``. ``outline`` runs counter-clockwise.
    """

    outline: Curve
    face_a: float
    face_b: float
    floor_a: float
    floor_b: float
    tab_low: float

    @property
    def thickness(self) -> float:
        """Of the plate, mm."""
        return self.face_a - self.face_b


def nominal(order: Order) -> Nominal:
    """Return what the order wants."""
    half = order.setup.plate.thickness / 2
    floor_a = half - order.trench.depth_a - order.trench.overlap / 2
    return Nominal(
        outline=order.blade.outline.counter_clockwise(),
        face_a=half,
        face_b=-half,
        floor_a=floor_a,
        floor_b=floor_a + order.trench.overlap,
        tab_low=floor_a - order.tabs.thickness,
    )


def bore_bottom(bore: Bore, order: Order) -> float:
    """Return the part height at which a bore ends, mm."""
    half = order.setup.plate.thickness / 2
    return -half if bore.depth is None else half - bore.depth


def opened_wider(order: Order, bore: Bore | None) -> float:
    """Return how far past its wall side B opens the skin of a bore, or of a slot (None), mm."""
    blind = bore is not None and bore_bottom(bore, order) > -order.setup.plate.thickness / 2
    met = bore is not None and bore.both_sides
    return 0.0 if blind or met or order.boring.opening != "skin" else order.boring.oversize / 2


def opened_walls(order: Order, side: str) -> list[tuple[Curve, float]]:
    """Return the walls of bores and slots that go in from a side's face, and `opened_wider` there."""
    on_b, half = side == "B", order.setup.plate.thickness / 2
    bores = [b for b in order.blade.bores if not on_b or bore_bottom(b, order) <= -half]
    walls = [(circle(b.centre, b.diameter), opened_wider(order, b)) for b in bores]
    walls += [(slot.outline, opened_wider(order, None)) for slot in order.blade.slots]
    return [(wall, wider if on_b else 0.0) for wall, wider in walls]
