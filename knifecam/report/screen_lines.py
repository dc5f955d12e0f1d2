"""What was made and measured, in lines for the screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from knifecam.judge.findings import Origin, Verdict
from knifecam.judge.worst_case import DISTURBANCES
from knifecam.quantity import NAME, Place, bare, either, mm, most_mm, name_of, quantity, told, um
from knifecam.shop import Order
from knifecam.shop.assumptions import unstated
from knifecam.shop.setup import Misplacement

OF_THE_TEXT = ("stop", "first-move")
"""Kinds of finding about how the program is written."""


def effects(right: Verdict, moved: Verdict) -> dict[str, Any]:
    """Return what a misplaced side B does: each figure as ordered and as it lies, mm.

    ``walls_apart`` and ``bores_apart`` are the greatest steps between the sides' walls and bores,
    ``tab_thickness``, ``tab_waist`` and ``land`` the least and greatest there are; None where there
    are none. ``findings`` counts the kinds of finding; how a cutter is set and comes down first is
    left out, for it is the program's and no plate's that lies a little otherwise.
    """
    told: dict[str, Any] = {}
    for name in ("walls_apart", "bores_apart", "tab_thickness", "tab_waist", "land"):
        told[name] = {"as_ordered": _FIGURES[name](right), "misplaced": _FIGURES[name](moved)}
    kinds = Counter(f.kind for f in moved.findings if f.kind not in OF_THE_TEXT)
    told["findings"] = dict(sorted(kinds.items()))
    return told


def _walls(verdict: Verdict) -> float | None:
    step: float | None = verdict.measures["outline"].get("mismatch")
    return step


def _bores(verdict: Verdict) -> float | None:
    steps = [b["mismatch"] for b in verdict.measures["bores"] if b.get("mismatch") is not None]
    return max(steps, default=None)


def _range(values: list[float | None]) -> list[float] | None:
    known = [v for v in values if v is not None]
    return [min(known), max(known)] if known else None


def _thickness(verdict: Verdict) -> list[float] | None:
    return _range([v for tab in verdict.measures["tabs"] for v in tab["thickness"][:1]])


def _waist(verdict: Verdict) -> list[float] | None:
    return _range([tab["waist"] for tab in verdict.measures["tabs"]])


def _land(verdict: Verdict) -> list[float] | None:
    lands = [bevel["land"] for bevel in verdict.measures["bevels"] if bevel["land"]]
    return _range([land["measured"][end] for land in lands for end in ("least", "most")])


_FIGURES = {
    "walls_apart": _walls,
    "bores_apart": _bores,
    "tab_thickness": _thickness,
    "tab_waist": _waist,
    "land": _land,
}


def effect_lines(place: Misplacement, effect: dict[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield what a misplaced side B does in plain lines, in "mm" or "in"."""
    for line in _effect_lines(place, effect):
        yield told(line, units)


def _effect_lines(place: Misplacement, effect: dict[str, Any]) -> Iterator[str]:
    yield (
        f"side B lying {bare(place.x):g}, {mm(place.y):g} aside, {mm(place.z):g} high, turned"
        f" {place.angle_deg:g} degrees (as ordered in brackets):"
    )
    for name, figures in effect.items():
        if name != "findings" and figures["misplaced"] is not None:
            before, after = _shown(figures["as_ordered"]), _shown(figures["misplaced"])
            yield f"  {name.replace('_', ' ')} {after}{NAME} ({before})"
    found = ", ".join(f"{kind} x{count}" for kind, count in effect["findings"].items())
    yield f"  findings: {found or 'none'}"


def _shown(figure: float | list[float] | None) -> str:
    if figure is None:
        return "-"
    if isinstance(figure, list):
        return f"{bare(figure[0]):.3f} to {bare(figure[1]):.3f}"
    return f"{bare(figure):.3f}"


ERRORS = {
    "z_lower": "Z lower", "cutter_thicker": "cutter thicker", "cutter_worn": "cutter worn",
}  # fmt: skip


DISTURBED = {told(one.name): one.name for one in DISTURBANCES}
"""What is disturbed, to be told in either unit, by its key in the verdict."""


PER_WAY = either(" mm3 a mm of way", " in3 an in of way")
"""What is taken on a step's way: a section."""


LEAST_CUTTER = 0.5
"""mm: no thinner cutter is proposed for hard plate (common practice)."""


def uncut_lines(measures: Mapping[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield the inner corners that stay uncut, in "mm" or "in"."""
    for line in _uncut_lines(measures):
        yield told(line, units)


def _uncut_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the inner corners that stay uncut because no finishing cutter reaches into them.

    Those of one outline or slot that the same would cure share a line, which tells the worst of
    them.
    """
    alike: dict[tuple[Any, ...], list[tuple[int, Mapping[str, Any]]]] = {}
    for number, one in enumerate(measures.get("unreachable", ()), start=1):
        left, fits = one["left"], one["largest_cutter"]
        cure = f"{most_mm(fits):.2f}" if fits >= LEAST_CUTTER else ""
        key = (one["of"], one["cutter_radius"], left is None, cure)
        alike.setdefault(key, []).append((number, one))
    for (name, radius, _, cure), rows in alike.items():
        yield _uncut_line(name, radius, cure, rows)


def _uncut_line(
    name: str, radius: float, cure: str, rows: Sequence[tuple[int, Mapping[str, Any]]]
) -> str:
    worst, one = max(rows, key=lambda row: row[1]["left"] or 0.0)
    x, y = one["place"][:2]
    where = f"UNCUT CORNER C{worst} of {name} at {Place(x, y):.2f}"
    if len(rows) > 1:
        numbers = ", ".join(f"C{number}" for number, _ in rows)
        where = f"UNCUT CORNERS {numbers} of {name}, worst C{worst} at {Place(x, y):.2f}"
    stays = "metal stays" if one["left"] is None else f"{mm(one['left']):.3f} of metal stays"
    remedy = f"a cutter of {cure} or less reaches " if cure else ""
    many = len(rows) > 1
    remedy += ("them" if many else "it") if cure else (
        "they are sharp, so file them or draw them with a radius" if many
        else "it is sharp, so file it or draw it with a radius"
    )  # fmt: skip
    return f"{where}: {stays}, for cutters of {mm(2 * radius):.3f}; {remedy}"


def shown(value: float | None, digits: int, unit: str = "mm") -> str:
    """Return a measure as text, without its unit's name; "unknown" where there is none."""
    return "unknown" if value is None else f"{bare(value, unit):.{digits}f}"


def plain(value: float | None, digits: int) -> str:
    """Return a measure as text that is the same in either unit; "unknown" where there is none."""
    return "unknown" if value is None else f"{value:.{digits}f}"


def _tens(value: float | None) -> str:
    """Return a moment in N mm to the tens: no bend strength is known more closely."""
    return shown(None if value is None else round(value, -1), 0, "N mm")


def _section(tab: Mapping[str, Any]) -> str:
    """Return where a tab snaps, and what is left there."""
    if "neck" in tab:
        neck = tab["neck"]
        return (
            f"at its neck of {shown(neck['thickness'], 3)}{NAME}, whose foot stands out"
            f" {shown(neck['stub_height'], 2)}{NAME}"
        )
    return f"{shown(tab['section_mm2'], 2, 'mm2')}{name_of('mm2')} midway"


def measure_lines(measures: Mapping[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield the measures a maker acts on, in "mm" or "in"."""
    for line in _lines(measures):
        yield told(line, units)


def _lines(measures: Mapping[str, Any]) -> Iterator[str]:
    for count, tab in enumerate(measures.get("tabs", ()), start=1):
        low, high = tab["snapping_n_mm"]
        yield (
            f"tab {count} at station {shown(tab['station'], 1)}: {shown(tab['thickness'][0], 3)}{NAME}"
            f" thick, waist {shown(tab['waist'], 3)}, stub {shown(tab['stub'], 2)}{NAME}, snaps at about"
            f" {_tens(low)}-{_tens(high)}{name_of('N mm')} ({_section(tab)}, as cut)"
        )
    for case, values in measures.get("disturbed_tabs", {}).items():
        if values and case != "as ordered":
            seen = [v for v in values if v is not None] or [None]
            yield f"  tabs {DISTURBED.get(case, case)}: {shown(min(seen), 3)}-{shown(max(seen), 3)}{NAME}"
    walls = measures.get("outline", {})
    for side in "AB":
        if side in walls:
            deep, left = walls[side]["gouge"], walls[side]["left"]
            yield (
                f"wall of side {side}: {shown(deep, 4)}{NAME} too deep, {shown(left, 4)}{NAME}"
                " left, at worst"
            )
    if walls.get("mismatch") is not None:
        yield f"the two sides disagree by {um(walls['mismatch'] * 1000):.2f} (perfect flip)"
    yield from _bevel_lines(measures)
    yield from _bore_lines(measures)
    yield from _detail_lines(measures)
    yield from _uncut_lines(measures)
    for side, figures in measures.get("sides", {}).items():
        hardest = figures.get("hardest")
        if hardest:
            yield (
                f"side {side}: line {hardest['line']} loads the cutter most,"
                f" {quantity(hardest['rate'], 'mm3/min'):.0f}{_met(hardest)};"
                f" {figures['minutes']:.0f} min at the mill"
            )


def _bore_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield how wide bores are, from either side where that differs."""
    for bore in measures.get("bores", ()):
        wide = {side: bore.get(f"diameter_{side.lower()}") for side in "AB"}
        seen = {side: shown(value, 4) for side, value in wide.items() if value}
        if len(set(seen.values())) > 1:
            told = ", ".join(f"{value}{NAME} from side {side}" for side, value in seen.items())
            yield f"bore {bore['name']}: {told}, for {shown(bore['wanted'], 4)}"
        elif seen:
            yield f"bore {bore['name']}: {min(seen.values())}{NAME} for {shown(bore['wanted'], 4)}"


def _met(hardest: Mapping[str, Any]) -> str:
    """Return what the teeth meet on the hardest line."""
    if "radial" not in hardest:
        return ""
    return (
        f" ({shown(hardest['section'], 2, 'mm2')}{PER_WAY}, up to {shown(hardest['radial'], 2)}{NAME}"
        f" across and {shown(hardest['axial'], 3)}{NAME} above the tip, chips to"
        f" {shown(hardest['chip'], 4)}{NAME}, {plain(hardest['unbroken_seconds'], 0)} s on end)"
    )


def _bevel_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what was measured of bevels: angle, cusps, gouge, land, symmetry, plunges, tip."""
    for bevel in measures.get("bevels", ()):
        for side, figures in bevel["sides"].items():
            if not figures.get("lines"):
                continue
            cusp, angle = figures["cusp"] or {}, figures["angle_deg"]
            yield (
                f"bevel {bevel['name']}, side {side}: {plain(angle['mean'], 4)} degrees for"
                f" {plain(bevel['angle_deg'], 4)}, cusps {_um(cusp.get('highest'))}{name_of('um')} for"
                f" {_um(cusp.get('predicted'))}, gouge"
                f" {_um(figures['most_gouged']['amount'])}{name_of('um')}"
            )
        if bevel["land"]:
            yield _land_line(bevel)
        yield from dict.fromkeys(_sensitivity_line(bevel, row) for row in bevel["sensitivity"])
    for bent in measures.get("plunges", ()):
        radius = bent["radius"]
        if radius:
            yield (
                f"plunge {bent['number']} of bevel {bent['bevel']}, side {bent['side']}: radius"
                f" {_span(radius, 2)}{NAME} for {shown(bent['radius_wanted'], 2)}"
            )
    tip = measures.get("tip") or {}
    if tip.get("thickness"):
        behind = ", ".join(
            f"{shown(row['measured'], 2)}{NAME} at {mm(row['behind']):g}"
            for row in tip["thickness"]
        )
        yield f"thick behind the tip: {behind}"


def _land_line(bevel: Mapping[str, Any]) -> str:
    """Return the land of a bevel, how it may move, and how far the sides are alike."""
    land = bevel["land"]
    moved = [v for seen in land["disturbed"].values() if seen for v in seen if v is not None]
    may = f"; {bare(min(moved)):.3f} to {bare(max(moved)):.3f} as disturbed above" if moved else ""
    alike = bevel["symmetry"]
    mirrored = (
        "" if alike is None else f"; the sides mirror each other within {_um(alike)}{name_of('um')}"
    )
    return (
        f"land of bevel {bevel['name']}: {_span(land['measured'], 4)}{NAME} for"
        f" {_span(land['wanted'], 3)}{may}{mirrored}"
    )


def _sensitivity_line(bevel: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """Return what a small error of Z, of the cutter's diameter and of wear does to a bevel."""
    told = ", ".join(
        f"{name} {um(1000 * row[key]['grind_line']):+.0f} and land {um(1000 * row[key]['land']):+.1f}"
        for key, name in ERRORS.items()
    )
    return f"  {um(1000 * row['per']):.0f} on bevel {bevel['name']} move its grind line: {told}"


def _detail_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what was measured of edge breaks, jimping, slots and webs."""
    for side in "AB":
        rows = [r for r in measures.get("edge_breaks", ()) if r["side"] == side and r["width"]]
        for name, of, wanted in dict.fromkeys((r["name"], r["of"], r["wanted"]) for r in rows):
            seen = [r["width"] for r in rows if (r["name"], r["of"]) == (name, of)]
            width = {"least": min(w["least"] for w in seen), "most": max(w["most"] for w in seen)}
            yield (
                f"edge break {name} of {of}, side {side}: {_span(width, 3)}{NAME} wide for"
                f" {shown(wanted, 3)}"
            )
    for row in filter(lambda row: row["notches"], measures.get("jimping", ())):
        yield (
            f"jimping {row['name']}: {row['notches']} notches {_span(row['depth'], 3)}{NAME} deep for"
            f" {shown(row['wanted_depth'], 3)}, {_span(row['axes_apart'], 3)}{NAME} apart for"
            f" {shown(row['wanted_pitch'], 3)}"
        )
    slots = [slot for slot in measures.get("slots", ()) if slot["left"] is not None]
    if slots:
        # side B opens the skin a little wider; where side A was cut, its walls are the slot's
        deep = max((s.get("A") or s.get("B") or {}).get("gouge") or 0.0 for s in slots)
        left = max(slot["left"] for slot in slots)
        yield (
            f"slots: {len(slots)}, at worst {shown(deep, 4)}{NAME} too deep, {shown(left, 4)}{NAME} left"
        )
    webs = [web for web in measures.get("webs", ()) if web["least"] is not None]
    if webs:
        thin = min(webs, key=lambda web: web["least"])
        yield f"thinnest web: {shown(thin['least'], 2)}{NAME}, between {' and '.join(thin['between'])}"


def _span(values: Mapping[str, Any] | None, digits: int) -> str:
    """Return the least and the most of a measure, once where both are alike."""
    if values is None:
        return shown(None, digits)
    low, high = shown(values["least"], digits), shown(values["most"], digits)
    return low if low == high else f"{low} to {high}"


def _um(value: float | None) -> str:
    """Return a measure of mm as um; "unknown" where there is none."""
    return shown(None if value is None else 1000 * value, 2, "um")


BENCH = (
    f"at the bench: walls {bare(0.01)}-{mm(0.03)}, tabs {mm(0.03)}, flip {bare(0.02)}-{mm(0.04)}"
    " (common practice)"
)


def file_lines(folder: Path, written: Sequence[str], *, proved: bool) -> Iterator[str]:
    """Yield the files that were written, by name in their folder."""
    kinds = {
        "programs": [name for name in written if name.endswith(".ngc")],
        "verdict": [name for name in written if name.endswith(".json")],
        "pictures": [name for name in written if name.endswith(".png")],
    }
    if not proved:
        yield "programs: not written under their names, since they are not proved"
    for kind, names in kinds.items():
        if names:
            yield f"{kind + ':':9} {', '.join(str(folder / name) for name in names)}"


def outline_line(order: Order) -> str:
    """Return the outline's size, and the layers of the drawing that it was taken from."""
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    names = " and ".join(f"'{name}'" for name in order.outline_layers)
    taken = f", from layer{'s' if len(order.outline_layers) > 1 else ''} {names}" if names else ""
    size = f"{bare(high_x - low_x):.2f} x {mm(high_y - low_y):.2f}"
    return f"outline: {told(size, order.units)}{taken}"


def note_lines(notes: Sequence[str]) -> Iterator[str]:
    """Yield what must not be overlooked, each set off."""
    for note in notes:
        yield f"NOTE: {note}"


def origin_lines(origin: Origin) -> Iterator[str]:
    """Yield first of all whose programs these are."""
    if origin.fits:
        yield f"ORDER {origin.order}: the programs were written for it"
    for side, digest in origin.programs:
        if (side, digest) in origin.strangers:
            yield (
                f"ANOTHER ORDER: side {side}'s program was written for order {digest}, this is order"
                f" {origin.order}; what follows compares one with the other"
            )
        elif not digest:
            yield f"side {side}'s program does not say which order it was written for"
        elif not origin.order:
            yield (
                f"side {side}'s program was written for order {digest}; this one is built by hand and"
                " has no number"
            )


def finding_lines(verdict: Verdict, order: Order) -> Iterator[str]:
    """Yield the verdict, and its findings one line each with the values they rest on."""
    unseen = " and ".join(verdict.unseen)
    if not verdict.findings:
        yield _proved(unseen)
        return
    also = f", and side {unseen} was not seen" if unseen else ""
    many = len(verdict.findings)
    yield f"NOT PROVED: {many} finding{'s' if many > 1 else ''}{also}"
    numbers = [c.number for c in order.cutters]
    for one in verdict.findings:
        where = f" side {one.side}, line {one.line}" if one.line else f" side {one.side}"
        yield f"  {one.kind}{where}: {one.message}"
        if one.remedy:
            yield f"      {one.remedy}"
        for line in unstated(order.assumed, numbers, one.message, one.kind):
            yield f"      the order does not state {line}"


def _proved(unseen: str) -> str:
    if not unseen:
        return "PROVED: nothing found in the programs' text"
    seen = "B" if unseen == "A" else "A"
    return (
        f"PROVED AS FAR AS SIDE {seen} GOES: side {unseen} was not seen, so neither it nor tabs,"
        " meeting of the sides and openings from the other side are proved"
    )
