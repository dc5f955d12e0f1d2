"""What stands in the shop: cutters, mill, plate, the setup of both sides, and the order."""

from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import Bevelling, Boring, Cutting, Order, Tabs, Trench
from knifecam.shop.setup import Clamp, MeasuredBore, Mill, Plate, Registration, Setup, Workholding

__all__ = [
    "Bevelling",
    "Boring",
    "Clamp",
    "Cutter",
    "Cutting",
    "MeasuredBore",
    "Mill",
    "Order",
    "Plate",
    "Registration",
    "Setup",
    "Tabs",
    "Trench",
    "Workholding",
]
