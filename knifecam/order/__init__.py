"""TOML <-> Order, validated: the only room that knows pydantic and pint."""

from knifecam.order.drawn import Parts
from knifecam.order.load import load_order, order_from_text
from knifecam.order.reference import write_reference

__all__ = ["Parts", "load_order", "order_from_text", "write_reference"]
