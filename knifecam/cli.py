"""The command line: look at a drawing, make an order's programs, check programs from anywhere.

Exit status 0: proved, or looked at and clear; 1: findings; 2: input that cannot be used; 3: nothing
found on one side, and the other was not seen; 130: stopped by hand, or by SIGTERM or SIGHUP.
"""

from __future__ import annotations

import argparse
import errno
import gc
import json
import math
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from knifecam import __version__
from knifecam.errors import KnifecamError, ProgramError, RefusedOrderError, telling_in
from knifecam.files import tell, tell_error
from knifecam.quantity import told

if TYPE_CHECKING:
    from knifecam.judge.findings import Verdict
    from knifecam.judge.prove import Judged
    from knifecam.making import Made
    from knifecam.shop import Order

PROVED, FINDINGS, BAD_INPUT, ONE_SIDE, STOPPED = 0, 1, 2, 3, 130

PROGRAMS = ("side-a.nc", "side-b.nc", "align-b.nc", "offsets.nc")
UNPROVED_FILES = ("side-a.unproved.nc", "side-b.unproved.nc")
OF_BEVELS = ("deviation-a.png", "deviation-b.png", "sections.png")
PRODUCTS = (*PROGRAMS, *UNPROVED_FILES, "verdict.json", "plate.png", *OF_BEVELS)
"""All that `make` may write: what it does not write this time belongs to another order."""

UNPROVED_WARNING = "(NOT PROVED: DO NOT CUT WITH THIS PROGRAM. VERDICT.JSON LISTS THE FAULTS FOUND)"


def run() -> int:
    """Return the exit status of a process that ends with its command: what it leaves is not freed
    piece by piece, which takes a tenth of the time of a large drawing's `look`."""
    status = main()
    gc.freeze()
    return status


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    options = _parser().parse_args(arguments)
    try:
        with _stopped_alike():
            status: int = options.run(options)
        return status
    except KnifecamError as error:
        return _refused(options, error.lines)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        return _refused(options, (f"{error.filename or 'a file'}: {reason}",))
    except KeyboardInterrupt as stop:
        left = stop.args[0] if stop.args else "nothing was written, nothing changed"
        tell_error([f"stopped: {left}"])
        return STOPPED


@contextmanager
def _stopped_alike() -> Iterator[None]:
    """Let SIGTERM and SIGHUP stop the work as SIGINT does, unless whoever started it has them ignored."""

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    names = ("SIGTERM", "SIGHUP") if threading.current_thread() is threading.main_thread() else ()
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    taken = [one for one in numbers if signal.getsignal(one) is signal.SIG_DFL]
    try:
        for one in taken:
            signal.signal(one, stop)
        yield
    finally:
        for one in taken:
            signal.signal(one, signal.SIG_DFL)


def _refused(options: argparse.Namespace, lines: Sequence[str]) -> int:
    if options.json:
        tell([json.dumps({"ok": False, "refused": list(lines)}, indent=2)])
    tell_error(f"refused: {line}" for line in lines)
    return BAD_INPUT


def _status(verdict: Verdict) -> int:
    """Return the exit status of a verdict."""
    if verdict.findings:
        return FINDINGS
    return PROVED if verdict.ok else ONE_SIDE


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
        help="show how a drawing is read",
        description="Show how a drawing is read. Exit status 2 if the part is not clear: name the"
        " layer of the outline then, as an order does.",
    )
    look.add_argument("drawing", type=Path, help="drawing file (DXF)")
    look.add_argument(
        "--units",
        help="unit of the drawing; overrides the file's own: mm, cm, dm, m, um, in, ft, yd, mil",
    )
    look.add_argument(
        "--join", type=float, default=0.01, help="largest gap joined, in mm (default 0.01)"
    )
    look.add_argument("--picture", type=Path, metavar="FILE", help="write a picture (PNG or SVG)")
    for role, holds in ROLE_HELP.items():
        look.add_argument(
            f"--{role.replace('_', '-')}", action="append", metavar="LAYER",
            help=f"layer of {holds}; may be repeated",
        )  # fmt: skip
    look.set_defaults(run=_look)
    return look


def _add_make(commands: Any) -> argparse.ArgumentParser:
    make: argparse.ArgumentParser = commands.add_parser(
        "make", help="plan, write and prove both sides' programs"
    )
    make.add_argument("order", type=Path, help="order file (TOML)")
    make.add_argument("--out", required=True, metavar="DIR", help="folder to write to")
    make.add_argument(
        "--unproved", action="store_true", help="write programs even if they have findings"
    )
    make.add_argument("--assumed", action="store_true", help="list every default used")
    make.add_argument("--cell", type=float, default=0.05, help=CELL_HELP)
    make.set_defaults(run=_make)
    return make


def _add_check(commands: Any) -> argparse.ArgumentParser:
    check: argparse.ArgumentParser = commands.add_parser(
        "check", help="prove two programs, whoever wrote them"
    )
    check.add_argument("order", type=Path, help="order file (TOML)")
    check.add_argument("side_a", metavar="SIDE_A", help="program of side A, or - for none")
    check.add_argument("side_b", metavar="SIDE_B", help="program of side B, or - for none")
    check.add_argument(
        "--explain", action="store_true", help="list what each line makes the mill do"
    )
    check.add_argument(
        "--misplaced", metavar="DX,DY,DZ,DEGREES",
        help="report also what the blade becomes if side B is shifted and turned by this much"
        " (mm, degrees)",
    )  # fmt: skip
    check.add_argument(
        "--surfaces", action="store_true",
        help="only measure bevels and edge breaks, with cells of 0.02 mm; nothing is judged",
    )  # fmt: skip
    check.add_argument("--cell", type=float, help=CELL_HELP)
    check.set_defaults(run=_check)
    return check


CELL_HELP = "cell of the simulator's grid in mm (default 0.05)"


ROLE_HELP = {
    "outline": "the outline",
    "bores": "the bores",
    "slots": "the slots",
    "tabs": "the points that mark tabs",
    "no_tabs": "the curves that mark where no tab may stand",
}


def _look(options: argparse.Namespace) -> int:
    from knifecam import drawing

    if options.picture:
        drawing.refuse_picture(options.picture)
    roles = drawing.Roles(**{role: tuple(getattr(options, role) or ()) for role in ROLE_HELP})
    with _uncollected():
        seen = drawing.read_drawing(options.drawing, options.units, options.join, strict=False)
    if options.json:
        tell([json.dumps(drawing.report_data(seen, roles), indent=2)])
    else:
        tell(drawing.report(seen, roles))
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

    folder, cell = _folder(options), _cell(options)
    refuse_folder(folder, PRODUCTS, _ours)
    made = _made(options.order, cell, folder)
    undrawn: list[str] = []
    files = _files(made, undrawn, unproved=options.unproved)
    stale = [name for name in PRODUCTS if name not in files]
    write_whole(folder, files, stale=stale, ours=_ours)
    if options.json:
        told = _told(made)
        tell([json.dumps(told | {"notes": [*told["notes"], *undrawn]}, indent=2)])
    else:
        from knifecam.making import summary
        from knifecam.report.screen_lines import note_lines

        written = [name for name in files if (folder / name).is_file()]
        lines = summary(made, folder, written=written, assumed=options.assumed)
        tell([*lines, *note_lines(undrawn)])
    return _status(made.verdict)


def _folder(options: argparse.Namespace) -> Path:
    """Return the folder to write to, with no exchange of files in it left half done."""
    from knifecam.files import mend

    if not options.out:
        raise KnifecamError("--out= is empty; name a folder, or '.' for the current one")
    folder = Path(options.out)
    if mend(folder):
        tell_error([f"{folder}: an earlier run stopped while it wrote files; repaired"])
    return folder


def _made(path: Path, cell: float, folder: Path) -> Made:
    """Return an order's programs, judged.

    Where an order that was read is refused, what an earlier order left in ``folder`` goes.
    """
    from knifecam.making import make
    from knifecam.order import load_order
    from knifecam.sweep.columns import refuse_cells

    try:
        order = load_order(path)
    except RefusedOrderError:
        _clear_away(folder)
        raise
    with telling_in(order.units):
        refuse_cells(order.setup.plate.bounds, cell)
    _tell_of_compiling()
    try:
        return make(order, cell=cell)
    except KnifecamError:
        _clear_away(folder)
        raise


@contextmanager
def _uncollected() -> Iterator[None]:
    """Collect no garbage meanwhile: looking for it takes a quarter of a large drawing's time."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def _tell_of_compiling() -> None:
    """Say why a first run takes longer."""
    from knifecam.compiled import is_first_run

    if is_first_run():
        tell_error(["first run of this version compiles: about half a minute on one core"])


def _clear_away(folder: Path) -> None:
    """Remove what an earlier order left in a folder that `make` has written: it is not this one's."""
    from knifecam.files import write_whole

    known = _ours(folder)
    gone = [name for name in PRODUCTS if name in known and (folder / name).is_file()]
    if gone:
        write_whole(folder, {}, stale=gone, ours=_ours)
        tell_error([f"removed from {folder}, left by an earlier order: {', '.join(gone)}"])


def _ours(folder: Path) -> set[str]:
    """Return which files of a folder `make` wrote, as its verdict there tells, and none changed since.

    A verdict that does not list them is of an earlier version: it stands beside files of its own.
    """
    try:
        verdict = json.loads((folder / "verdict.json").read_text(encoding="ascii"))
        if not {"ok", "findings", "not_judged"} <= set(verdict):
            return set()
        files = verdict.get("files", dict.fromkeys(PRODUCTS))
        return {"verdict.json"} | {n for n, digest in files.items() if _is(folder / n, digest)}
    except (OSError, ValueError, TypeError, AttributeError):
        return set()


def _is(path: Path, digest: str | None) -> bool:
    """Return whether a file is the one of that digest; of pictures none is known."""
    from knifecam.files import digest_of

    return digest is None or (path.is_file() and digest_of(path.read_bytes()) == digest)


def _told(made: Made) -> dict[str, Any]:
    """Return the verdict and the notes as plain data."""
    return made.verdict.as_dict() | {
        "notes": list(made.notes),
        "assumed": [str(one) for one in made.order.assumed],
    }


def _files(made: Made, undrawn: list[str], *, unproved: bool) -> dict[str, Any]:
    """Return what is written; what could not be drawn goes to ``undrawn`` as it is written."""
    from knifecam.files import digest_of

    texts = _programs(made, unproved=unproved)
    pictures = {name: _drawn(name, draw, undrawn) for name, draw in _pictures(made).items()}
    listed = {name: digest_of(text.encode("ascii")) for name, text in texts.items()}
    told = _told(made) | {"files": listed | dict.fromkeys(pictures)}
    return {"verdict.json": json.dumps(told, indent=2) + "\n", **texts, **pictures}


def _programs(made: Made, *, unproved: bool) -> dict[str, str]:
    """Return the programs that may be written, by name."""
    texts = (made.programs[0].text, made.programs[1].text)
    if made.verdict.ok:
        more = {} if made.offsets is None else {"offsets.nc": made.offsets}
        return dict(zip(PROGRAMS, (*texts, made.align), strict=False)) | more
    if not unproved:
        return {}
    return {
        name: f"{UNPROVED_WARNING}\n{text}"
        for name, text in zip(UNPROVED_FILES, texts, strict=True)
    }


def _pictures(made: Made) -> dict[str, Callable[[Path], None]]:
    """Return what draws the pictures, by name; some only a blade with bevels has."""
    from knifecam.report.deviation_picture import deviation_picture
    from knifecam.report.plate_picture import picture
    from knifecam.report.section_picture import sections_picture

    plate = {"plate.png": lambda path: picture(made.judged, path)}
    if not made.order.blade.bevels:
        return plate
    drawn = (
        lambda path: deviation_picture(made.judged, "A", path),
        lambda path: deviation_picture(made.judged, "B", path),
        lambda path: sections_picture(made.judged, path),
    )
    return plate | dict(zip(OF_BEVELS, drawn, strict=True))


def _drawn(name: str, draw: Callable[[Path], None], undrawn: list[str]) -> Callable[[Path], None]:
    """Return a writer that leaves its file out, and says so, where the picture cannot be drawn."""

    def write(path: Path) -> None:
        try:
            draw(path)
        except Exception as error:
            if isinstance(error, OSError) and error.errno in _FULL:
                raise
            path.unlink(missing_ok=True)
            undrawn.append(f"{name} could not be drawn ({type(error).__name__}: {error})")

    return write


_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS)
"""Of the disk, not of the picture."""


def _check(options: argparse.Namespace) -> int:
    from knifecam.order import load_order

    if options.cell is None:
        options.cell = 0.02 if options.surfaces else 0.05
    cell = _cell(options)
    order = load_order(options.order)
    texts = (_text(options.side_a), _text(options.side_b))
    if texts == (None, None):
        raise KnifecamError("check: both sides are '-'; name at least one program")
    with telling_in(order.units):
        if options.surfaces:
            return _surfaces(options, order, texts, cell)
        return _check_all(options, order, texts, cell)


def _check_all(
    options: argparse.Namespace, order: Order, texts: tuple[str | None, str | None], cell: float
) -> int:
    """Judge the texts, and tell what was measured and found."""
    from knifecam.report.screen_lines import (
        BENCH,
        finding_lines,
        measure_lines,
        note_lines,
        origin_lines,
    )
    from knifecam.rules.rule_passes import remarks

    _tell_of_compiling()
    judged, extra = _judged(order, texts, cell, options.misplaced)
    verdict = judged.verdict
    explained = _explained(order, texts, judged) if options.explain else ()
    if options.json:
        tell([*explained, json.dumps(verdict.as_dict() | extra.get("json", {}), indent=2)])
        return _status(verdict)
    lines = [*origin_lines(verdict.origin), *explained]
    lines += [*measure_lines(verdict.measures, order.units), *note_lines(remarks(order))]
    lines += [*finding_lines(verdict, order), *extra.get("lines", ()), told(BENCH, order.units)]
    tell(lines)
    return _status(verdict)


def _surfaces(
    options: argparse.Namespace, order: Order, texts: tuple[str | None, str | None], cell: float
) -> int:
    """Tell how far the ground surfaces are off, and judge nothing but whose programs these are."""
    from dataclasses import asdict

    from knifecam.judge.findings import origin_of
    from knifecam.report.screen_lines import origin_lines
    from knifecam.report.surface_deviation import blade_surface, deviation_lines, surface_deviations

    if options.explain or options.misplaced is not None:
        raise KnifecamError("--surfaces cannot be combined with --explain or --misplaced")
    origin = origin_of(order, texts)
    found = surface_deviations(order, blade_surface(order, texts, cell=cell))
    if options.json:
        data = {"order": origin.as_dict(), "cell": cell, "surfaces": [asdict(one) for one in found]}
        tell([json.dumps(data, indent=2)])
    else:
        lines = [*origin_lines(origin), *deviation_lines(found, cell, order.units)]
        tell(lines)
    return FINDINGS if origin.fits is False else PROVED


def _judged(
    order: Order, texts: tuple[str | None, str | None], cell: float, misplaced: str | None
) -> tuple[Judged, dict[str, Any]]:
    """Return the judgement, and what is told besides if side B lies otherwise too."""
    from knifecam.making import check

    if misplaced is None:
        return check(order, texts, cell=cell), {}
    return _misplaced(order, texts, misplaced, cell)


def _explained(order: Order, texts: tuple[str | None, str | None], judged: Judged) -> Iterator[str]:
    """Yield what each line made the mill do, and what its teeth met."""
    from knifecam.judge.verdict_figures import line_loads
    from knifecam.report.explain import explain, to_part_frame
    from knifecam.sweep.side_program import stored_of

    rows = zip("AB", texts, judged.case.sides, judged.engagement, strict=True)
    for name, text, side, record in rows:
        if text is None:
            continue
        loads = None if side is None or record is None else line_loads(side, record)
        yield f"side {name}"
        yield from explain(
            text,
            stored_of(order.setup),
            to_part=to_part_frame(order.setup, name),
            loads=loads,
            units=order.units,
        )


def _misplaced(
    order: Order, texts: tuple[str | None, str | None], asked: str, cell: float
) -> tuple[Judged, dict[str, Any]]:
    """Return the judgement as ordered, and what a misplaced side B does."""
    from knifecam.making import check_misplaced
    from knifecam.report.screen_lines import effect_lines, misplacement_effects
    from knifecam.shop.setup import Misplacement

    try:
        x, y, z, degrees = (float(one) for one in asked.split(","))
        place = Misplacement(x=x, y=y, z=z, angle=math.radians(degrees))
    except ValueError as error:
        raise KnifecamError(
            f"--misplaced={asked}: give four numbers, such as 0.02,0,-0.01,0.05 (mm, mm, mm,"
            " degrees)"
        ) from error
    if texts[1] is None:
        raise KnifecamError(
            "--misplaced: side B's program is '-', but only side B can be misplaced"
        )
    right, moved = check_misplaced(order, texts, (Misplacement(), place), cell=cell)
    effect = misplacement_effects(right.verdict, moved.verdict)
    return right, {
        "json": {"misplaced": effect},
        "lines": list(effect_lines(place, effect, order.units)),
    }


def _text(name: str) -> str | None:
    from knifecam.files import read_file
    from knifecam.rs274.program_reader import decoded

    if name == "-":
        return None
    try:
        return decoded(read_file(name))
    except ProgramError as error:
        raise KnifecamError(f"{name}: {error}") from error
