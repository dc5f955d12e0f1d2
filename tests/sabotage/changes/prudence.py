"""Rules of prudence: what the judge finds though this run would have left the blade as it should be."""

from __future__ import annotations

PRUDENCE = {
    "first-move": "in this run nothing stood in the way; after a change of length Z goes first, alone",
    "restart": "run from its beginning the program cuts right; started at this cut it would not",
    "stop": "in this run no hand was hurt; every stop has its height, its place and its words",
    "clearance": "in this run nothing stood in the way; a bowed plate or a clamp set higher would",
    "stop-text": "the mill does the same; what the hand is told otherwise may be done otherwise",
    "mismatch": "both sides' walls stay within the oracle's 4 um; they are held to agree to 1 um",
    "side-thickness": "with plate and zeros as ordered it comes out right; 0.03 mm off it would not",
}
"""Kinds of finding that are such a rule, and what each guards. Told apart from false alarms, and listed
in `docs/explanation/what-the-simulator-cannot-see.md`."""
