"""The command line: look at a drawing, make an order's programs, check programs from anywhere.

Exit status 0: proved (or looked at without trouble); 1: findings; 2: bad input.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from knifecam.errors import KnifecamError

if TYPE_CHECKING:
    from knifecam.make import Made

PROVED, FINDINGS, BAD_INPUT = 0, 1, 2

UNPROVED_WARNING = "(NOT PROVED: THE SIMULATOR FOUND WHAT VERDICT.JSON TELLS. DO NOT CUT WITH IT)"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
        return status
    except KnifecamError as error:
        return _refused(options, error.lines)
    except OSError as error:
        return _refused(options, (f"{error.filename or 'file'}: {error.strerror or error}",))


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
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    look = commands.add_parser("look", help="tell what is understood of a drawing")
    look.add_argument("drawing", type=Path)
    look.add_argument("--units", help="unit of the drawing, where it does not say: mm, cm, m, in")
    look.add_argument("--join", type=float, default=0.01, help="mm within which ends are joined")
    look.add_argument("--picture", type=Path, metavar="FILE", help="draw it (PNG or SVG)")
    look.set_defaults(run=_look)

    make = commands.add_parser("make", help="plan, write and prove both sides' programs")
    make.add_argument("order", type=Path)
    make.add_argument("--out", type=Path, required=True, metavar="DIR")
    make.add_argument("--unproved", action="store_true", help="write programs with findings too")
    make.add_argument("--cell", type=float, default=0.05, help="mm, the simulator's grid")
    make.set_defaults(run=_make)

    check = commands.add_parser("check", help="prove two programs, whoever wrote them")
    check.add_argument("order", type=Path)
    check.add_argument("side_a", metavar="SIDE_A", help="program of side A, or - for none")
    check.add_argument("side_b", metavar="SIDE_B", help="program of side B, or - for none")
    check.add_argument(
        "--explain", action="store_true", help="tell what each line made the mill do"
    )
    check.add_argument("--cell", type=float, default=0.05, help="mm, the simulator's grid")
    check.set_defaults(run=_check)

    for command in (look, make, check):
        command.add_argument("--json", action="store_true", help="print plain data")
    return parser


def _look(options: argparse.Namespace) -> int:
    from knifecam import drawing

    seen = drawing.read_drawing(options.drawing, options.units, options.join, strict=False)
    if options.json:
        print(json.dumps(drawing.report_data(seen), indent=2))
    else:
        print("\n".join(drawing.report(seen)))
    if options.picture:
        drawing.picture(seen, options.picture)
    return BAD_INPUT if seen.problems else PROVED


def _cell(options: argparse.Namespace) -> float:
    cell: float = options.cell
    if not 0.01 <= cell <= 0.5:
        raise KnifecamError(f"--cell={cell} mm must be within 0.01 and 0.5 mm")
    return cell


def _make(options: argparse.Namespace) -> int:
    from knifecam.files import write_whole
    from knifecam.make import make
    from knifecam.order import load_order
    from knifecam.summary import summary

    cell = _cell(options)
    order = load_order(options.order)
    made = make(order, cell=cell)
    if not made.verdict.ok:
        _take_away(options.out)
    write_whole(options.out, _files(made, unproved=options.unproved))
    if options.json:
        print(json.dumps(made.verdict.as_dict(), indent=2))
    else:
        print("\n".join(summary(made, options.out)))
    return PROVED if made.verdict.ok else FINDINGS


def _files(made: Made, *, unproved: bool) -> dict[str, Any]:
    from knifecam.simulator.picture import picture

    verdict = json.dumps(made.verdict.as_dict(), indent=2) + "\n"
    files: dict[str, Any] = {
        "verdict.json": verdict,
        "plate.png": lambda path: picture(made.judged, path),
    }
    texts = {"side-a": made.programs[0].text, "side-b": made.programs[1].text}
    if made.verdict.ok:
        files |= {f"{name}.ngc": text for name, text in texts.items()}
        files["align-b.ngc"] = made.align
        if made.offsets is not None:
            files["offsets.ngc"] = made.offsets
    elif unproved:
        files |= {
            f"{name}.unproved.ngc": f"{UNPROVED_WARNING}\n{text}" for name, text in texts.items()
        }
    return files


def _take_away(folder: Path) -> None:
    """Remove proved programs of an earlier order: they would not match the new verdict."""
    for name in ("side-a.ngc", "side-b.ngc", "align-b.ngc", "offsets.ngc"):
        (folder / name).unlink(missing_ok=True)


def _check(options: argparse.Namespace) -> int:
    from knifecam.make import check
    from knifecam.order import load_order
    from knifecam.summary import finding_lines

    cell = _cell(options)
    order = load_order(options.order)
    texts = (_text(options.side_a), _text(options.side_b))
    if texts == (None, None):
        raise KnifecamError("check: both sides are '-'; name at least one program")
    if options.explain:
        from knifecam.simulator.explain import explain

        for side, text in zip("AB", texts, strict=True):
            if text is not None:
                print(f"side {side}")
                for row in explain(text, order.setup):
                    print(row)
    judged = check(order, texts, cell=cell)
    if options.json:
        print(json.dumps(judged.verdict.as_dict(), indent=2))
    else:
        print("\n".join(finding_lines(judged.verdict)))
    return PROVED if judged.verdict.ok else FINDINGS


def _text(name: str) -> str | None:
    if name == "-":
        return None
    try:
        return Path(name).read_bytes().decode("ascii")
    except UnicodeDecodeError as error:
        raise KnifecamError(
            f"{name}: byte {error.start} is no plain ASCII; a program is plain text"
        ) from error
