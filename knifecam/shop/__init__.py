"""What stands in the shop: cutters, mill, plate, the setup of both sides, and the order."""

from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import Bevelling, Boring, Cutting, Order, Tabs, Trench
from knifecam.shop.setup import Hold, KeepOut, Measured, Mill, Plate, Registration, Setup

__all__ = [
    "Bevelling",
    "Boring",
    "Cutter",
    "Cutting",
    "Hold",
    "KeepOut",
    "Measured",
    "Mill",
    "Order",
    "Plate",
    "Registration",
    "Setup",
    "Tabs",
    "Trench",
]
