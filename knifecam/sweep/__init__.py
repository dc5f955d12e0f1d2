"""Cutters swept through a plate of columns, and how near their sides came to a place.

The judge's own geometry: it shares no code with what plans.
"""
