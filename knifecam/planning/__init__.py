"""What is done where and in which order: floors, tabs, sequence, feeds, and what cannot be done."""

from knifecam.planning.plan import Cut, Plan, Tab
from knifecam.planning.sequence import lay_out

__all__ = ["Cut", "Plan", "Tab", "lay_out"]
