"""Metal that comes free, floors over a void, and blades that hang out beyond their tabs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import resample, signed_distance
from knifecam.judge.collisions import first_outline_cut
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, first_and_worst, rounded_place
from knifecam.judge.judge_limits import (
    FARTHEST_OVERHANG_MM,
    HINGE_SHARE,
    MOST_OF_BLADE_SHARE,
    MOST_PLACES,
    ONE_TAB_BLADE_MM,
    SCREWED_TIMES,
    SLUG_MM2,
    SUPPORT_BELOW_MM,
    SUPPORT_VOID_MM,
    TAB_PLACE_SLACK_MM,
    WASTE_MM2,
)
from knifecam.measure.case import Case
from knifecam.quantity import mm, mm2
from knifecam.sweep.columns import cut_by_steps, sample_columns
from knifecam.sweep.loose_pieces import LoosePiece


def find_loose(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds loose-part, loose-slug and loose-waste."""
    for piece in case.pieces:
        yield from _judged(piece, case)
    screwed = case.sides[1]
    if case.order.setup.workholding.kind != "bores":
        return
    since = screwed.first + first_outline_cut(screwed, case) if screwed else np.inf
    for piece in case.pieces_unscrewed:
        if _named(piece, case) is Kind.LOOSE_PART and 0 <= piece.motion < since:
            yield _finding(
                Kind.LOOSE_PART, piece, case, "the blade comes free before it is screwed"
            )


def _named(piece: LoosePiece, case: Case) -> Kind:
    place = np.array([piece.place])
    for opening in case.openings:
        if signed_distance(place, opening.outline)[0] > 0:
            return Kind.LOOSE_SLUG
    if piece.area > MOST_OF_BLADE_SHARE * case.wanted.outline.area:
        return Kind.LOOSE_PART
    inside = signed_distance(place, case.wanted.outline)[0] > 0
    return Kind.LOOSE_PART if inside else Kind.LOOSE_WASTE


def _judged(piece: LoosePiece, case: Case) -> Iterator[Finding]:
    kind = _named(piece, case)
    if piece.area <= case.near(0.0, SLUG_MM2 if kind is Kind.LOOSE_SLUG else WASTE_MM2):
        return
    names = {
        Kind.LOOSE_PART: "the blade" if piece.area > MOST_OF_BLADE_SHARE * case.wanted.outline.area
        else "a piece of the blade",
        Kind.LOOSE_SLUG: "a slug inside a bore or slot",
        Kind.LOOSE_WASTE: "a piece of waste",
    }  # fmt: skip
    yield _finding(kind, piece, case, f"{names[kind]} comes free, {mm2(piece.area):.2f}")


def _finding(kind: Kind, piece: LoosePiece, case: Case, sentence: str) -> Finding:
    side, line = "B", 0
    if piece.motion >= 0:
        owner, motion = case.side_of(piece.motion)
        side, line = owner.name, int(owner.trace.line[motion])
    return Finding(
        kind=kind, side=side, line=line, message=sentence, place=rounded_place([*piece.place, 0.0]),
        measured=piece.area, allowed=None,
    )  # fmt: skip


def find_support(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind unsupported."""
    upper, lower = case.sides
    if case.order.setup.support != "none" or lower is None or upper is None:
        return
    if lower.swept is None:
        return
    rows = lower.steps
    e = rows.engagement
    thin = np.flatnonzero((e.volume > 1e-6) & (e.floor < SUPPORT_BELOW_MM))
    thin = thin[:: max(1, len(thin) // MOST_PLACES)]
    seen = sample_columns(rows.place[thin, :2], case.order.setup.plate.thickness)
    cut_by_steps(seen, upper.laid, side=upper.name, first=upper.first)
    void = case.wanted.face_a - seen.top
    over = void > SUPPORT_VOID_MM
    hits, depth = thin[over], void[over]

    def tell(k: int) -> Message:
        floor = float(e.floor[hits[k]])
        sentence = (
            f"cuts with {mm(floor):.3f} of metal left over a void of {mm(depth[k]):.2f} "
            f"that nothing fills"
        )
        return sentence, floor, SUPPORT_BELOW_MM

    yield from first_and_worst(
        Kind.UNSUPPORTED, lower, rows.motion[hits], tell=tell, badness=depth,
        places=rows.place[hits],
    )  # fmt: skip


def find_overhang(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind overhang."""
    hold = case.order.setup.workholding
    if not case.whole or hold.tip_clamp:
        return
    if hold.kind == "tabs":
        yield from _tabs(case)
    elif hold.screws and not case.bridges:
        yield from _screws(case)


def _tabs(case: Case) -> Iterator[Finding]:
    """Judge the tabs' places along the blade's longest way, its principal axis."""
    if not case.bridges:  # told as loose
        return
    points = resample(case.wanted.outline, 0.5)[1]
    middle = points.mean(axis=0)
    axis = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    ways = (points - middle) @ axis
    length = float(np.ptp(ways))
    if not length > ONE_TAB_BLADE_MM + TAB_PLACE_SLACK_MM:
        return
    at = np.sort((np.array([b.place for b in case.bridges]) - middle) @ axis)
    span = float(at[-1] - at[0])
    if not span >= HINGE_SHARE * length - TAB_PLACE_SLACK_MM:
        sentence = (
            f"{len(at)} tab{'s' if len(at) > 1 else ''} within span={mm(span):.1f} hold a blade"
            f" {mm(length):.1f} long like a hinge; {mm(HINGE_SHARE * length):.1f} is the least"
        )
        yield at_line(
            Kind.OVERHANG,
            "B",
            0,
            sentence,
            place=rounded_place([*case.bridges[0].place, 0.0]),
            measured=span,
            allowed=HINGE_SHARE * length,
        )
        return
    ends = (float(at[0] - ways.min()), float(ways.max() - at[-1]))
    worst = max(ends)
    if not worst <= FARTHEST_OVERHANG_MM + TAB_PLACE_SLACK_MM:
        k = int(np.argmin(ways)) if ends[0] >= ends[1] else int(np.argmax(ways))
        sentence = (
            f"an end of the blade hangs out={mm(worst):.1f} beyond the last tab;"
            f" {mm(FARTHEST_OVERHANG_MM):g} is allowed"
        )
        yield at_line(
            Kind.OVERHANG, "B", 0, sentence, place=rounded_place([*points[k], 0.0]),
            measured=worst, allowed=FARTHEST_OVERHANG_MM,
        )  # fmt: skip


def _screws(case: Case) -> Iterator[Finding]:
    """Judge how far the outline is from the nearest screw where no tab stands beside them."""
    order = case.order
    screws = [b.centre for b in order.blade.bores if b.name in order.setup.workholding.screws]
    if not screws:
        return
    points = resample(case.wanted.outline, 0.5)[1]
    away = np.min([np.hypot(*(points - centre).T) for centre in screws], axis=0)
    k, allowed = int(np.argmax(away)), SCREWED_TIMES * order.blade.thickness
    if not away[k] <= allowed + TAB_PLACE_SLACK_MM:
        sentence = (
            f"an end of the blade hangs out={mm(away[k]):.1f} beyond the nearest screw with no tab;"
            f" {mm(allowed):g} is allowed"
        )
        yield at_line(
            Kind.OVERHANG, "B", 0, sentence, place=rounded_place([*points[k], 0.0]),
            measured=float(away[k]), allowed=allowed,
        )  # fmt: skip
