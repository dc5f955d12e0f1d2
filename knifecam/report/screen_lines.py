"""What was made and measured, in lines for the screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from knifecam.blade.bevel import bevel_named
from knifecam.judge.finding_kinds import FINDING_KINDS
from knifecam.judge.findings import Origin, Verdict
from knifecam.judge.worst_case import DISTURBANCES
from knifecam.quantity import (
    NAME,
    Place,
    bare,
    either,
    mm,
    moments,
    most_mm,
    name_of,
    quantity,
    told,
    um,
)
from knifecam.report.report_limits import LEAST_CUTTER_MM, LEAST_LEFT_MM, ROW_SHARE
from knifecam.shop import Order
from knifecam.shop.assumptions import unstated
from knifecam.shop.setup import Misplacement

NAMED = 3
"""Openings named one by one in a line."""


def misplacement_effects(right: Verdict, moved: Verdict) -> dict[str, Any]:
    """Return what a misplaced side B does: each figure as ordered and as it lies, mm.

    ``walls_apart`` and ``bores_apart`` are the greatest steps between the sides' walls and bores,
    ``tab_thickness``, ``tab_waist`` and ``land`` the least and greatest there are; None where there
    are none. ``findings`` counts the kinds of finding; those of the text alone are left out, for they
    are the program's and no plate's that lies a little otherwise.
    """
    told: dict[str, Any] = {}
    for name in ("walls_apart", "bores_apart", "tab_thickness", "tab_waist", "land"):
        told[name] = {"as_ordered": _FIGURES[name](right), "misplaced": _FIGURES[name](moved)}
    kinds = Counter(f.kind for f in moved.findings if not FINDING_KINDS[f.kind].of_the_text)
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
        f"with side B shifted by X {bare(place.x):g}, Y {mm(place.y):g}, raised by {mm(place.z):g},"
        f" turned by {place.angle_deg:g} deg (undisturbed in brackets):"
    )
    for name, figures in effect.items():
        if name != "findings" and figures["misplaced"] is not None:
            before, after = _shown(figures["as_ordered"]), _shown(figures["misplaced"])
            yield f"  {EFFECTS[name]}: {after}{NAME} ({before})"
    found = ", ".join(f"{kind} x{count}" for kind, count in effect["findings"].items())
    yield f"  findings: {found or 'none'}"


def _shown(figure: float | list[float] | None) -> str:
    if figure is None:
        return "-"
    if isinstance(figure, list):
        return f"{bare(figure[0]):.3f} to {bare(figure[1]):.3f}"
    return f"{bare(figure):.3f}"


EFFECTS = {
    "walls_apart": "step between the sides' walls",
    "bores_apart": "step between the sides' bores",
    "tab_thickness": "tab thickness",
    "tab_waist": "tab waist",
    "land": "land",
}


ERRORS = {
    "z_lower": "Z set too low", "cutter_thicker": "a cutter too thick", "cutter_worn": "a worn cutter",
}  # fmt: skip


DISTURBED = {told(one.name): one.name for one in DISTURBANCES}
"""What is disturbed, to be told in either unit, by its key in the verdict."""


def uncut_corners(measures: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the inner corners that stay uncut with metal that a maker would see or feel."""
    rows = measures.get("unreachable", ())
    return [row for row in rows if row["left"] is None or row["left"] >= LEAST_LEFT_MM]


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
    for number, one in enumerate(uncut_corners(measures), start=1):
        left, fits = one["left"], one["largest_cutter"]
        cure = f"{most_mm(fits):.2f}" if fits >= LEAST_CUTTER_MM else ""
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
    left = "metal" if one["left"] is None else f"{mm(one['left']):.3f} of metal"
    them = "them" if len(rows) > 1 else "it"
    remedy = (
        f"one of {cure} or less reaches {them}"
        if cure
        else f"no cutter reaches {them}, so file {them} or draw {them} with a radius"
    )
    return f"{where}: the cutter of {mm(2 * radius):.3f} leaves {left}; {remedy}"


def shown(value: float | None, digits: int, unit: str = "mm") -> str:
    """Return a measure as text, without its unit's name; "unknown" where there is none."""
    return "unknown" if value is None else f"{bare(value, unit):.{digits}f}"


def plain(value: float | None, digits: int) -> str:
    """Return a measure as text that is the same in either unit; "unknown" where there is none."""
    return "unknown" if value is None else f"{value:.{digits}f}"


def _stub(tab: Mapping[str, Any]) -> str:
    """Return what a tab leaves on the blade."""
    high = f", {shown(tab['neck']['stub_height'], 2)}{NAME} high" if "neck" in tab else ""
    return f"leaves a stub {shown(tab['stub'], 2)}{NAME} wide{high}"


def _breaks(tab: Mapping[str, Any]) -> str:
    """Return what breaks a tab, and where."""
    where = (
        f"neck {shown(tab['neck']['thickness'], 3)}{NAME}"
        if "neck" in tab
        else f"section {shown(tab['section_mm2'], 2, 'mm2')}{name_of('mm2')}"
    )
    return f"breaks at {moments(*tab['breaking_n_mm'])} ({where})"


def measure_lines(measures: Mapping[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield the measures a maker acts on, in "mm" or "in"."""
    for line in _lines(measures):
        yield told(line, units)


def _lines(measures: Mapping[str, Any]) -> Iterator[str]:
    for count, tab in enumerate(measures.get("tabs", ()), start=1):
        yield (
            f"tab {count} at station {shown(tab['station'], 1)}: {shown(tab['thickness'][0], 3)}{NAME}"
            f" thick, waist {shown(tab['waist'], 3)}{NAME}; {_stub(tab)}; {_breaks(tab)}"
        )
    for case, values in measures.get("worst_case_tabs", {}).items():
        if values and case != "as ordered":
            seen = [v for v in values if v is not None]
            span = {"least": min(seen), "most": max(seen)} if seen else None
            yield f"  tabs {DISTURBED.get(case, case)}: {_span(span, 3)}{NAME}"
    walls = measures.get("outline", {})
    for side in "AB":
        if side in walls:
            deep, left = walls[side]["gouge"], walls[side]["left"]
            yield (
                f"side {side}'s wall at worst: {shown(deep, 4)}{NAME} undersize,"
                f" {shown(left, 4)}{NAME} oversize"
            )
    if walls.get("mismatch") is not None:
        step = um(walls["mismatch"] * 1000)
        yield f"step between the two sides' walls: {step:.2f} if the plate is turned over exactly"
    yield from _bevel_lines(measures)
    yield from _bore_lines(measures)
    yield from _detail_lines(measures)
    yield from _uncut_lines(measures)
    for side, figures in measures.get("sides", {}).items():
        hardest = figures.get("heaviest_cut")
        if hardest:
            yield f"side {side}: {figures['minutes']:.0f} min at the mill"
            yield (
                f"  heaviest cut: line {hardest['line']},"
                f" {quantity(hardest['rate'], 'mm3/min'):.0f}{_met(hardest)}"
            )
    yield from _force_lines(measures.get("sides", {}))


def _force_lines(sides: Mapping[str, Any]) -> Iterator[str]:
    """Yield where both sides' greatest force bends a cutter, and which way it moves the work."""
    seen = {side: row for side, figures in sides.items() if (row := figures.get("greatest_force"))}
    if seen:
        side = max(seen, key=lambda name: float(seen[name]["across"]))
        row = seen[side]
        way = "up" if row["lift"] >= row["press"] else "down"
        across, upright = (
            quantity(size, "N") for size in (row["across"], max(row["lift"], row["press"]))
        )
        name = "".join(letter for letter in row["cut"] if letter.isprintable())
        yield (
            f"greatest force: side {side} line {row['line']}, {name}: {across:.0f} across,"
            f" {upright:.0f} {way} on the work; bends cutter {row['cutter']} by"
            f" {um(1000 * row['deflection']):.0f}"
        )


SHOWN_ROWS, NAME_CHARACTERS = 20, 46
"""Rows of the table of cuts at most, and characters of a name there."""


def minute_lines(measures: Mapping[str, Any], units: str = "mm") -> Iterator[str]:
    """Yield where the minutes go: the table of cuts, the hand's part, the bench's, and the sums."""
    for line in _minute_lines(measures):
        yield told(line, units)


def _minute_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    rows, minutes = _table_rows(measures["cuts"]), measures["minutes"]
    wide = max((len(row["name"]) for row in rows), default=0)
    rate = either("mm3/min", "in3/min")
    yield f"side  {'cut':{wide}}  cutter  {either('     mm3', '     in3')}     min   {rate}   share"
    for row in rows:
        cutters = f"{row['items']} x {row['cutter']}" if row["items"] > 1 else str(row["cutter"])
        yield (
            f"{row['side']:4}  {row['name']:{wide}}  {cutters:>6}  {bare(row['volume'], 'mm3'):8.0f}"
            f"  {row['minutes']:6.1f}  {bare(row['rate'] or 0.0, 'mm3/min'):8.1f}"
            f"  {100 * (row['share'] or 0.0):4.0f} %"
        )
    hands = sum(minutes[key] for key in ("stops", "changes", "dwells"))
    share = 100 * hands / minutes["mill"] if minutes["mill"] else 0.0
    yield (
        f"stops and changes: {hands:.0f} min, {share:.0f} % ({minutes['hand_stops']} hand stops"
        f" {minutes['stops']:.0f}, {minutes['cutter_changes']} cutter changes"
        f" {minutes['changes']:.0f}, dwells {minutes['dwells']:.0f}; common practice)"
    )
    bench = minutes["bench"]
    parts = ", ".join(f"{BENCH_WORK[name]} {took:.0f}" for name, took in bench.items() if took)
    yield f"bench: {sum(bench.values()):.0f} min ({parts}; common practice)"
    yield f"with collets, each fitting checked again: {_sum(minutes, 'collets')}"
    yield f"with holders that keep their length: {_sum(minutes, 'holders')}"


BENCH_WORK = {
    "warm_up": "warm-up",
    "thickness": "measuring",
    "fill_and_cure": "fill and cure",
    "flip_and_clean": "flip",
    "alignment": "alignment",
}
"""Work at the bench by its key in the verdict."""


def _sum(minutes: Mapping[str, Any], kind: str) -> str:
    """Return the minutes at the mill with collets or holders, and those with the bench's."""
    mill = minutes[kind]
    whole = mill + sum(minutes["bench"].values())
    return f"about {mill:.0f} min at the mill, {whole:.0f} with the bench"


def _table_rows(cuts: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the cuts that the table tells; the short ones share its last row."""
    named = [row | {"name": _short(row["name"])} for row in cuts]
    long = sorted(named, key=lambda row: -row["minutes"])[: SHOWN_ROWS - 1]
    shown = [row for row in named if row in long and (row["share"] or 0.0) >= ROW_SHARE]
    rest = [row for row in named if row not in shown]
    if len(rest) < 2:
        return named
    volume, minutes = (sum(row[key] for row in rest) for key in ("volume", "minutes"))
    short = {
        "side": "", "name": f"{len(rest)} shorter cuts", "cutter": "", "items": 1,
        "volume": volume, "minutes": minutes, "rate": volume / minutes if minutes > 0 else None,
        "share": sum(row["share"] or 0.0 for row in rest),
    }  # fmt: skip
    return [*shown, short]


def _short(name: str) -> str:
    return name if len(name) <= NAME_CHARACTERS else f"{name[: NAME_CHARACTERS - 3]}..."


def _bore_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield how wide bores are, from either side where that differs."""
    for bore in measures.get("bores", ()):
        wide = {side: bore.get(f"diameter_{side.lower()}") for side in "AB"}
        seen = {side: shown(value, 4) for side, value in wide.items() if value}
        if len(set(seen.values())) > 1:
            wide_each = ", ".join(f"{value}{NAME} on side {side}" for side, value in seen.items())
            yield f"bore {bore['name']}: {wide_each}{_ordered(shown(bore['wanted'], 4))}"
        elif seen:
            one = min(seen.values())
            yield f"bore {bore['name']}: {one}{NAME}{_ordered(shown(bore['wanted'], 4))}"


def _ordered(text: str) -> str:
    """Return what was ordered, to stand behind what was measured."""
    return f" (ordered {text})"


def _met(hardest: Mapping[str, Any]) -> str:
    """Return what the teeth meet in the heaviest cut."""
    if "radial" not in hardest:
        return ""
    return (
        f" (radial {shown(hardest['radial'], 2)}{NAME}, axial {shown(hardest['axial'], 3)}{NAME},"
        f" chip {shown(hardest['chip'], 4)}{NAME},"
        f" {plain(hardest['unbroken_contact_s'], 0)} s of unbroken contact)"
    )


def _bevel_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what was measured of bevels: angle, cusps, gouge, land, symmetry, plunges, tip."""
    for bevel in measures.get("bevels", ()):
        yield from _side_lines(
            (bevel_named(bevel["name"]), side, _surface(bevel, figures))
            for side, figures in bevel["sides"].items()
            if figures.get("lines")
        )
        if bevel["land"]:
            yield from _land_lines(bevel)
        for lines in dict.fromkeys(_sensitivity_lines(bevel, r) for r in bevel["sensitivity"]):
            yield from lines
    yield from _side_lines(
        (
            f"plunge {bent['number']} of {bevel_named(bent['bevel'])}",
            bent["side"],
            f"radius {_span(bent['radius'], 2)}{NAME}{_ordered(shown(bent['radius_wanted'], 2))}",
        )
        for bent in measures.get("plunges", ())
        if bent["radius"]
    )
    tip = measures.get("tip") or {}
    if tip.get("thickness"):
        behind = ", ".join(
            f"{shown(row['measured'], 2)}{'' if row['measured'] is None else NAME}"
            f" at {mm(row['behind']):g}"
            for row in tip["thickness"]
        )
        yield f"thickness behind the tip: {behind}"


def _side_lines(rows: Iterable[tuple[str, str, str]]) -> Iterator[str]:
    """Yield subject, side and text; both sides in one line where they are alike."""
    alike: dict[tuple[str, str], list[str]] = {}
    for subject, side, text in rows:
        alike.setdefault((subject, text), []).append(side)
    for (subject, text), sides in alike.items():
        where = f"side{'s' if len(sides) > 1 else ''} {' and '.join(sides)}"
        yield f"{subject}, {where}: {text}"


def _surface(bevel: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """Return the angle, cusps and gouge of one side of a bevel."""
    cusp, angle = figures["cusp"] or {}, figures["angle_deg"]
    return (
        f"{plain(angle['mean'], 4)} deg{_ordered(plain(bevel['angle_deg'], 4))}, cusps"
        f" {_um(cusp.get('highest'))}{name_of('um')} (predicted {_um(cusp.get('predicted'))}),"
        f" deepest gouge {_um(figures['most_gouged']['amount'])}{name_of('um')}"
    )


def _land_lines(bevel: Mapping[str, Any]) -> Iterator[str]:
    """Yield the land of a bevel, how it may move, and how far the sides are alike."""
    land = bevel["land"]
    yield (
        f"land of {bevel_named(bevel['name'])}: {_span(land['measured'], 4)}{NAME}"
        f"{_ordered(_span(land['wanted'], 3))}"
    )
    moved = [v for seen in land["disturbed"].values() if seen for v in seen if v is not None]
    if moved:
        span = {"least": min(moved), "most": max(moved)}
        yield f"  {_span(span, 3)}{NAME} with plate thickness, taper and side B's Z zero at their worst"
    if bevel["symmetry"] is not None:
        yield f"  sides A and B mirror each other within {_um(bevel['symmetry'])}{name_of('um')}"


def _sensitivity_lines(bevel: Mapping[str, Any], row: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what a small error of Z, of the cutter's diameter and of wear does to a bevel."""
    return (
        f"{bevel_named(bevel['name'])}, per {um(1000 * row['per']):.0f} of error:",
        *(f"  {error} {_moved(row[key])}" for key, error in ERRORS.items()),
    )


def _moved(row: Mapping[str, Any]) -> str:
    """Return which way an error moves the grind line and changes the land."""
    line, land = um(1000 * abs(row["grind_line"])), um(1000 * abs(row["land"]))
    way = "away from" if row["grind_line"] > 0 else "toward"
    grown = "thickens" if row["land"] > 0 else "thins"
    return f"moves the grind line {line:.0f} {way} the edge and {grown} the land by {land:.1f}"


def _detail_lines(measures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what was measured of edge breaks, jimping, slots and webs."""
    yield from _break_lines([r for r in measures.get("edge_breaks", ()) if r["width"]])
    for row in filter(lambda row: row["notches"], measures.get("jimping", ())):
        yield (
            f"jimping {row['name']}: {row['notches']} notches, {_span(row['depth'], 3)}{NAME}"
            f" deep{_ordered(shown(row['wanted_depth'], 3))}, {_span(row['axes_apart'], 3)}{NAME}"
            f" apart{_ordered(shown(row['wanted_pitch'], 3))}"
        )
    slots = [slot for slot in measures.get("slots", ()) if slot["left"] is not None]
    if slots:
        # side B opens the skin a little wider; where side A was cut, its walls are the slot's
        deep = max((s.get("A") or s.get("B") or {}).get("gouge") or 0.0 for s in slots)
        left = max(slot["left"] for slot in slots)
        whose = (
            f"walls of {len(slots)} slots" if len(slots) > 1 else f"wall of slot {slots[0]['name']}"
        )
        yield (
            f"{whose} at worst: {shown(deep, 4)}{NAME} oversize, {shown(left, 4)}{NAME} undersize"
        )
    webs = [web for web in measures.get("webs", ()) if web["least"] is not None]
    if webs:
        thin = min(webs, key=lambda web: web["least"])
        yield f"thinnest web: {shown(thin['least'], 2)}{NAME}, between {' and '.join(thin['between'])}"


def _break_lines(rows: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield how wide edge breaks are; those of many openings that came out alike share a line."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for side, name, of, wanted in dict.fromkeys(
        (r["side"], r["name"], r["of"], r["wanted"]) for r in sorted(rows, key=lambda r: r["side"])
    ):
        seen = [r["width"] for r in rows if (r["side"], r["name"], r["of"]) == (side, name, of)]
        width = {"least": min(w["least"] for w in seen), "most": max(w["most"] for w in seen)}
        text = f"{_span(width, 3)}{NAME} wide{_ordered(shown(wanted, 3))}"
        alike.setdefault((name, side, text), []).append(of)
    yield from _side_lines(
        (f"edge break {name} of {_named(each)}", side, text)
        for (name, side, text), each in alike.items()
    )


def _named(names: Sequence[str]) -> str:
    """Return the first names of a list, and how many more there are."""
    if len(names) > NAMED:
        return f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


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
    f"expect more on the mill: walls off by {bare(0.01)} to {mm(0.03)}, tabs by {mm(0.03)}, the flip"
    f" by {bare(0.02)} to {mm(0.04)} (common practice)"
)


def file_lines(folder: Path, written: Sequence[str], *, proved: bool) -> Iterator[str]:
    """Yield the files that were written, by name in their folder."""
    kinds = {
        "programs": [name for name in written if name.endswith(".nc")],
        "verdict": [name for name in written if name.endswith(".json")],
        "pictures": [name for name in written if name.endswith(".png")],
    }
    if not proved:
        how = "marked as such" if kinds["programs"] else "so not written; --unproved writes them"
        yield f"programs: not proved, {how}"
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
        yield f"the programs were written for this order, {origin.order}"
    for side, digest in origin.programs:
        if (side, digest) in origin.strangers:
            yield (
                f"ANOTHER ORDER: side {side}'s program was written for order {digest}, but this is order"
                f" {origin.order}; what follows compares the two"
            )
        elif not digest:
            yield f"side {side}'s program does not name its order"
        elif not origin.order:
            yield (
                f"side {side}'s program was written for order {digest}; this order was built by hand"
                " and has no number"
            )


def finding_lines(verdict: Verdict, order: Order) -> Iterator[str]:
    """Yield the verdict, and its findings one line each with the values they rest on."""
    unseen = " and ".join(verdict.unseen)
    if not verdict.findings:
        yield _proved(unseen)
        return
    also = f"; side {unseen} was not given" if unseen else ""
    many = len(verdict.findings)
    yield f"NOT PROVED: {many} finding{'s' if many > 1 else ''}{also}"
    for one in verdict.findings:
        where = f" side {one.side}, line {one.line}" if one.line else f" side {one.side}"
        yield f"  {one.kind}{where}: {one.message}"
        if one.remedy:
            yield f"      {one.remedy}"
        for line in unstated(order.assumed, one.rests_on, FINDING_KINDS[one.kind].rests_on):
            yield f"      default, not set in the order: {line}"


def _proved(unseen: str) -> str:
    if not unseen:
        return "PROVED: the simulator found no fault in the two programs"
    seen = "B" if unseen == "A" else "A"
    return (
        f"PROVED FOR SIDE {seen} ONLY: side {unseen}'s program was not given; not proved are side"
        f" {unseen}, the tabs, the match of the two sides, and openings cut from both"
    )
