"""The physics of cutting, and the record of what the cutter met."""

from knifecam.cutting.engagement import Engagement

__all__ = ["Engagement"]
