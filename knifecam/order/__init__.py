"""TOML <-> Order, validated: the only room that knows pydantic and pint."""

from knifecam.order.drawing_source import DrawnParts
from knifecam.order.read_order import load_order, order_from_text

__all__ = ["DrawnParts", "load_order", "order_from_text"]
