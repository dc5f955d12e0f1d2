"""Findings: each module looks for some kinds, and `prove` asks them all.

The judge reads programs as text, cuts a plate with them, and measures what is left. It shares no
code with the planner: it has its own frames, its own cutter profile, its own constants, and it
sweeps and measures distances where the planner offsets.
"""
