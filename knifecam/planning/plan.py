"""The plan: both sides' cuts in order, with the floors and tabs they follow."""

from __future__ import annotations

from dataclasses import dataclass

from knifecam.curve import Motions


@dataclass(frozen=True, slots=True, kw_only=True)
class Floors:
    """How deep each side goes, as part z in mm (A's face at +T/2, B's at -T/2).

    ``a_rough`` and ``a_finish`` are side A's trench floors, ``b_rough`` and ``b_finish`` how far
    side B comes up; ``tab`` is the face of the tabs turned to side B, which lie between it and
    ``a_rough``. ``a_bore`` is where side A's bores stop, ``b_open`` how far side B opens them.
    """

    a_rough: float
    a_finish: float
    b_rough: float
    b_finish: float
    tab: float
    a_bore: float
    b_open: float
    meet: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """One tab: where it stands on the outline, and its sizes in mm.

    ``heading`` rad is the outline's direction there (counter-clockwise round the blade, part
    frame); ``waist`` the width of the narrow face, ``wide`` that of the wide face, ``stub`` the
    width left on the blade; ``section`` mm2 at the waist, ``moment`` N mm that snaps it, least and
    greatest, for bend strengths of 2500 and 3500 N/mm2 (common practice). A tab that is necked at
    the wall leaves a stub as thick as its ``neck`` that stands out by ``stub_height``; its section
    and moment are the neck's.
    """

    station: float
    place: tuple[float, float]
    heading: float
    waist: float
    thickness: float
    wide: float
    stub: float
    section: float
    moment: tuple[float, float]
    neck: float = 0.0
    stub_height: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One cutter doing one thing on one side.

    ``motions`` are in the side's own frame (z toward the spindle, 0 in the mid-plane), begin and
    end at the rapid height. ``stop`` is what the maker must do before it and ``after`` what after
    it, empty for nothing. ``fresh``: a fresh cutter of the same number goes in first. ``minutes``
    is the time in contact as planned (feed time below the face).
    """

    name: str
    side: str
    cutter: int
    stage: str
    spindle: float
    motions: Motions
    minutes: float
    bottom: float
    stop: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    fresh: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Both sides' cuts, what they rest on, and what the maker should know."""

    cuts: tuple[Cut, ...]
    floors: Floors
    tabs: tuple[Tab, ...]
    notes: tuple[str, ...] = ()

    def side(self, side: str) -> tuple[Cut, ...]:
        """Return the cuts of one side in order."""
        return tuple(cut for cut in self.cuts if cut.side == side)
