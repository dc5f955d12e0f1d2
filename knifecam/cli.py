"""The command line: look at a drawing, make an order's programs, check programs from anywhere.

Exit status 0: proved, or looked at and clear; 1: findings; 2: input that cannot be used;
130: stopped by hand.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from knifecam.errors import KnifecamError
from knifecam.version import __version__

if TYPE_CHECKING:
    from knifecam.making import Made
    from knifecam.shop import Order
    from knifecam.simulator.judging import Judged

PROVED, FINDINGS, BAD_INPUT, STOPPED = 0, 1, 2, 130

PROGRAMS = ("side-a.ngc", "side-b.ngc", "align-b.ngc", "offsets.ngc")
UNPROVED = ("side-a.unproved.ngc", "side-b.unproved.ngc")
OF_BEVELS = ("deviation-a.png", "deviation-b.png", "sections.png")
PRODUCTS = (*PROGRAMS, *UNPROVED, "verdict.json", "plate.png", *OF_BEVELS)
"""All that `make` may write: what it does not write this time belongs to another order."""

UNPROVED_WARNING = "(NOT PROVED: THE SIMULATOR FOUND WHAT VERDICT.JSON TELLS. DO NOT CUT WITH IT)"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
        return status
    except KnifecamError as error:
        return _refused(options, error.lines)
    except BrokenPipeError:  # whoever read the lines has gone; so may the rest of them
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return STOPPED
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        return _refused(options, (f"{error.filename or 'a file'}: {reason}",))
    except KeyboardInterrupt:
        print("stopped by hand: nothing was written, nothing changed", file=sys.stderr)
        return STOPPED


def _refused(options: argparse.Namespace, lines: Sequence[str]) -> int:
    if options.json:
        print(json.dumps({"ok": False, "refused": list(lines)}, indent=2))
    for line in lines:
        print(f"refused: {line}", file=sys.stderr)
    return BAD_INPUT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="knifecam",
        description="From a drawing and an order to two proved RS-274 programs for a blade.",
    )
    parser.add_argument("--version", action="version", version=f"knifecam {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for command in (_add_look(commands), _add_make(commands), _add_check(commands)):
        command.add_argument("--json", action="store_true", help="print plain data")
    return parser


def _add_look(commands: Any) -> argparse.ArgumentParser:
    look: argparse.ArgumentParser = commands.add_parser(
        "look",
        help="tell what is understood of a drawing",
        description="Tell what is understood of a drawing. Exit status 2 where the part in it is"
        " not clear: say which layer holds the outline, as an order would.",
    )
    look.add_argument("drawing", type=Path)
    look.add_argument(
        "--units",
        help="unit of the drawing, before what it says itself: mm, cm, dm, m, um, in, ft, yd, mil",
    )
    look.add_argument("--join", type=float, default=0.01, help="mm within which ends are joined")
    look.add_argument("--picture", type=Path, metavar="FILE", help="draw it (PNG or SVG)")
    for role, holds in ROLES.items():
        look.add_argument(
            f"--{role.replace('_', '-')}", action="append", metavar="LAYER",
            help=f"layer that holds {holds}; may be given again",
        )  # fmt: skip
    look.set_defaults(run=_look)
    return look


def _add_make(commands: Any) -> argparse.ArgumentParser:
    make: argparse.ArgumentParser = commands.add_parser(
        "make", help="plan, write and prove both sides' programs"
    )
    make.add_argument("order", type=Path)
    make.add_argument("--out", type=Path, required=True, metavar="DIR")
    make.add_argument("--unproved", action="store_true", help="write programs with findings too")
    make.add_argument("--assumed", action="store_true", help="list every value the order left out")
    make.add_argument("--cell", type=float, default=0.05, help="mm, the simulator's grid")
    make.set_defaults(run=_make)
    return make


def _add_check(commands: Any) -> argparse.ArgumentParser:
    check: argparse.ArgumentParser = commands.add_parser(
        "check", help="prove two programs, whoever wrote them"
    )
    check.add_argument("order", type=Path)
    check.add_argument("side_a", metavar="SIDE_A", help="program of side A, or - for none")
    check.add_argument("side_b", metavar="SIDE_B", help="program of side B, or - for none")
    check.add_argument(
        "--explain", action="store_true", help="tell what each line made the mill do"
    )
    check.add_argument(
        "--misplaced", metavar="DX,DY,DZ,DEGREES",
        help="tell as well what becomes of the blade if the plate lies so on side B (mm, degrees)",
    )  # fmt: skip
    check.add_argument(
        "--surfaces", action="store_true",
        help="tell only how far bevels and edge breaks are off, at 0.02 mm cells; judge nothing",
    )  # fmt: skip
    check.add_argument("--cell", type=float, help="mm, the simulator's grid (0.05)")
    check.set_defaults(run=_check)
    return check


ROLES = {
    "outline": "the outline",
    "bores": "the bores",
    "slots": "the slots",
    "tabs": "points where tabs stand",
    "keep_off": "curves along the outline that no tab may touch",
}


def _look(options: argparse.Namespace) -> int:
    from knifecam import drawing

    if options.picture:
        drawing.refuse_picture(options.picture)
    roles = drawing.Roles(**{role: tuple(getattr(options, role) or ()) for role in ROLES})
    seen = drawing.read_drawing(options.drawing, options.units, options.join, strict=False)
    if options.json:
        print(json.dumps(drawing.report_data(seen, roles), indent=2))
    else:
        print("\n".join(drawing.report(seen, roles)))
    if options.picture:
        drawing.picture(seen, options.picture, roles)
    if drawing.unclear(seen, roles):
        return BAD_INPUT
    return BAD_INPUT if seen.problems and not roles.outline else PROVED


def _cell(options: argparse.Namespace) -> float:
    cell: float = options.cell
    if not 0.01 <= cell <= 0.5:
        raise KnifecamError(f"--cell={cell} mm must be within 0.01 and 0.5 mm")
    return cell


def _make(options: argparse.Namespace) -> int:
    from knifecam.files import refuse_folder, write_whole

    refuse_folder(options.out, PRODUCTS)
    try:
        made = _made(options.order, _cell(options))
    except KnifecamError:
        _clear_away(options.out)
        raise
    files = _files(made, unproved=options.unproved)
    write_whole(options.out, files, stale=[name for name in PRODUCTS if name not in files])
    if options.json:
        print(json.dumps(_told(made), indent=2))
    else:
        from knifecam.summary import summary

        print("\n".join(summary(made, options.out, assumed=options.assumed)))
    return PROVED if made.verdict.ok else FINDINGS


def _made(path: Path, cell: float) -> Made:
    """Return an order's programs, judged; what is not compiled yet is compiled from the start on."""
    from knifecam.simulator.ahead import compiling

    with compiling() as compiled:
        from knifecam.making import make
        from knifecam.order import load_order

        return make(load_order(path), cell=cell, before_judging=compiled)


def _clear_away(folder: Path) -> None:
    """Remove what an earlier order left in a folder that `make` has written: it is not this one's."""
    from knifecam.files import take_away

    try:
        verdict = json.loads((folder / "verdict.json").read_text(encoding="ascii"))
        written = {"ok", "findings", "not_judged"} <= set(verdict)
    except (OSError, ValueError, TypeError):
        return
    gone = take_away(folder, PRODUCTS) if written else ()
    if gone:
        print(
            f"removed from {folder}, since an earlier order made them: {', '.join(gone)}",
            file=sys.stderr,
        )


def _told(made: Made) -> dict[str, Any]:
    """Return the verdict and the notes as plain data."""
    return made.verdict.as_dict() | {"notes": list(made.notes), "assumed": list(made.order.assumed)}


def _files(made: Made, *, unproved: bool) -> dict[str, Any]:
    from knifecam.simulator.picture import picture

    verdict = json.dumps(_told(made), indent=2) + "\n"
    files: dict[str, Any] = {
        "verdict.json": verdict,
        "plate.png": lambda path: picture(made.judged, path),
        **_bevel_pictures(made),
    }
    texts = (made.programs[0].text, made.programs[1].text)
    if made.verdict.ok:
        files |= dict(zip(PROGRAMS[:2], texts, strict=True))
        files["align-b.ngc"] = made.align
        if made.offsets is not None:
            files["offsets.ngc"] = made.offsets
    elif unproved:
        files |= {
            name: f"{UNPROVED_WARNING}\n{text}" for name, text in zip(UNPROVED, texts, strict=True)
        }
    return files


def _bevel_pictures(made: Made) -> dict[str, Any]:
    """Return the pictures that only a blade with bevels has."""
    from knifecam.simulator.picture_deviation import deviation_picture
    from knifecam.simulator.picture_sections import sections_picture

    if not made.order.blade.bevels:
        return {}
    drawn: tuple[Any, ...] = (
        lambda path: deviation_picture(made.judged, "A", path),
        lambda path: deviation_picture(made.judged, "B", path),
        lambda path: sections_picture(made.judged, path),
    )
    return dict(zip(OF_BEVELS, drawn, strict=True))


def _check(options: argparse.Namespace) -> int:
    from knifecam.order import load_order

    if options.cell is None:
        options.cell = 0.02 if options.surfaces else 0.05
    cell = _cell(options)
    order = load_order(options.order)
    texts = (_text(options.side_a), _text(options.side_b))
    if texts == (None, None):
        raise KnifecamError("check: both sides are '-'; name at least one program")
    if options.surfaces:
        return _surfaces(options, order, texts, cell)
    return _check_all(options, order, texts, cell)


def _check_all(
    options: argparse.Namespace, order: Order, texts: tuple[str | None, str | None], cell: float
) -> int:
    """Judge the texts, and tell what was measured and found."""
    from knifecam.measure_lines import measure_lines
    from knifecam.shop.remarks import remarks
    from knifecam.simulator.ahead import compiling
    from knifecam.summary import finding_lines, note_lines

    with compiling() as compiled:
        compiled()
    judged, extra = _judged(order, texts, cell, options.misplaced)
    verdict = judged.verdict
    if options.explain:
        _explain(order, texts, judged)
    if options.json:
        print(json.dumps(verdict.as_dict() | extra.get("json", {}), indent=2))
    else:
        lines = [*measure_lines(verdict.measures), *note_lines(remarks(order))]
        lines += [*finding_lines(verdict, order), *extra.get("lines", ())]
        print("\n".join(lines))
    return PROVED if verdict.ok else FINDINGS


def _surfaces(
    options: argparse.Namespace, order: Order, texts: tuple[str | None, str | None], cell: float
) -> int:
    """Tell how far the ground surfaces are off, and judge nothing."""
    from dataclasses import asdict

    from knifecam.simulator.field import blade_field, off_lines, off_surfaces

    if options.explain or options.misplaced is not None:
        raise KnifecamError("--surfaces: judges nothing, so neither --explain nor --misplaced go")
    found = off_surfaces(order, blade_field(order, texts, cell=cell))
    if options.json:
        print(json.dumps({"cell": cell, "surfaces": [asdict(one) for one in found]}, indent=2))
    else:
        print("\n".join(off_lines(found, cell)))
    return PROVED


def _judged(
    order: Order, texts: tuple[str | None, str | None], cell: float, misplaced: str | None
) -> tuple[Judged, dict[str, Any]]:
    """Return the judgement, and what is told besides if side B lies otherwise too."""
    from knifecam.making import check

    if misplaced is None:
        return check(order, texts, cell=cell), {}
    return _misplaced(order, texts, misplaced, cell)


def _explain(order: Order, texts: tuple[str | None, str | None], judged: Judged) -> None:
    """Print what each line made the mill do, and what its teeth met."""
    from knifecam.simulator.explain import explain, part_of
    from knifecam.simulator.load import line_loads

    rows = zip("AB", texts, judged.case.sides, judged.engagement, strict=True)
    for name, text, side, record in rows:
        if text is None:
            continue
        loads = None if side is None or record is None else line_loads(side, record)
        print(f"side {name}")
        for row in explain(text, order.setup, to_part=part_of(order.setup, name), loads=loads):
            print(row)


def _misplaced(
    order: Order, texts: tuple[str | None, str | None], asked: str, cell: float
) -> tuple[Judged, dict[str, Any]]:
    """Return the judgement as ordered, and what a misplaced side B does."""
    from knifecam.making import check_misplaced
    from knifecam.simulator.misplaced import Misplacement, effect_lines, effects

    try:
        x, y, z, degrees = (float(one) for one in asked.split(","))
        place = Misplacement(x=x, y=y, z=z, angle=math.radians(degrees))
    except ValueError as error:
        raise KnifecamError(
            f"--misplaced={asked}: four numbers are wanted, such as 0.02,0,-0.01,0.05 (mm, mm, mm,"
            " degrees)"
        ) from error
    if texts[1] is None:
        raise KnifecamError(
            "--misplaced: side B's program is '-', but only side B can lie otherwise"
        )
    right, moved = check_misplaced(order, texts, (Misplacement(), place), cell=cell)
    told = effects(right.verdict, moved.verdict)
    return right, {
        "json": {"misplaced": told},
        "lines": list(effect_lines(place, told)),
    }


def _text(name: str) -> str | None:
    if name == "-":
        return None
    try:
        return Path(name).read_bytes().decode("ascii")
    except UnicodeDecodeError as error:
        raise KnifecamError(
            f"{name}: byte {error.start} is no plain ASCII; a program is plain text"
        ) from error
