"""Files that are read only where they are files and end; files that appear whole or not at all."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Callable, Collection, Iterable, Mapping
from pathlib import Path

from knifecam.errors import OutputError

Writer = Callable[[Path], None]

_KINDS = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISDIR, "a folder"),
)
LONGEST = 64_000_000
"""Bytes: no longer file is read. A drawing of 50 000 entities or a program of a million lines takes
half of it."""


def read_file(path: str | Path, most: int = LONGEST) -> bytes:
    """Return the bytes of a file, at most ``most`` of them.

    Neither a pipe or device, which may never end, nor a longer file is read: both are known before.

    Raises
    ------
    OSError
        With the path as ``filename`` and what is wrong as ``strerror``.
    """
    found = os.stat(path)
    for is_kind, kind in _KINDS:
        if is_kind(found.st_mode):
            raise OSError(0, f"it is {kind}, not a file", str(path))
    if found.st_size > most:
        raise _too_long(path, most, f"it is {found.st_size / 1e6:.0f} MB long")
    with open(path, "rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise _too_long(path, most, "it does not end")
    return content


def _too_long(path: str | Path, most: int, size: str) -> OSError:
    return OSError(0, f"{size}; at most {most / 1e6:g} MB are read", str(path))


def write_whole(
    folder: Path, contents: Mapping[str, str | Writer], *, stale: Collection[str] = ()
) -> None:
    """Write all files into ``folder`` and take ``stale`` ones away, or leave it as it was.

    Everything is first written beside; only when all of it is there do the files change places
    with what stood there. ``contents`` maps names to a text, or to a function that writes the file.

    Raises
    ------
    OutputError
        When the folder cannot be made, or a file in it not be written or replaced.
    """
    folder = folder.absolute()
    refuse_folder(folder, (*contents, *stale))
    made: Path | None = None
    try:
        made = _make_folder(folder)
        with tempfile.TemporaryDirectory(prefix=".knifecam-", dir=folder) as beside:
            new, old = Path(beside) / "new", Path(beside) / "old"
            new.mkdir()
            old.mkdir()
            for name, content in contents.items():
                _write(new / name, content)
            _exchange(folder, new, old, stale)
    except BaseException as error:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)
        if isinstance(error, OSError):
            raise _refusal(folder, error) from error
        raise


def refuse_folder(folder: Path, names: Iterable[str] = ()) -> None:
    """Raise `OutputError` where it is plain that files cannot be written into ``folder``."""
    folder = folder.absolute()
    above = next(f for f in (folder, *folder.parents) if f.exists() or f.is_symlink())
    if not above.is_dir():
        raise OutputError(f"--out={folder}: {above} is a file, not a folder; name another folder")
    if not os.access(above, os.W_OK | os.X_OK):
        raise OutputError(
            f"--out={folder}: nothing can be written to {above}: permission denied; name a folder"
            " of your own"
        )
    for name in names:
        if (folder / name).is_dir():
            raise OutputError(
                f"--out={folder}: {name} is a folder there, and a file of that name is to be"
                " written; name another folder, or move it"
            )


def take_away(folder: Path, names: Iterable[str]) -> tuple[str, ...]:
    """Remove the files ``names`` from ``folder`` and return which were there."""
    gone = []
    for name in names:
        if (folder / name).is_file():
            (folder / name).unlink()
            gone.append(name)
    return tuple(gone)


def _write(path: Path, content: str | Writer) -> None:
    if isinstance(content, str):
        path.write_text(content, encoding="ascii", newline="\n")
    else:
        content(path)


def _exchange(folder: Path, new: Path, old: Path, stale: Iterable[str]) -> None:
    """Move all in ``new`` to the folder and what it replaces, and ``stale``, to ``old``, or none.

    What has been moved so far is seen from the disk, so that it holds wherever it is stopped.
    """
    names = sorted(path.name for path in new.iterdir())
    try:
        for name in {*names, *stale}:
            if (folder / name).exists():
                os.replace(folder / name, old / name)
        for name in names:
            os.replace(new / name, folder / name)
    except BaseException:
        for name in names:
            if not (new / name).exists():
                (folder / name).unlink(missing_ok=True)
        for path in old.iterdir():
            os.replace(path, folder / path.name)
        raise


def _refusal(folder: Path, error: OSError) -> OutputError:
    """Return an error that names the file wanted, not where it was first written."""
    said = Path(str(error.filename)).name if error.filename else ""
    which = said if said and not said.startswith(".knifecam-") else "a file"
    reason = (error.strerror or str(error)).lower()
    return OutputError(
        f"--out={folder}: {which} cannot be written there: {reason}; nothing was written and"
        " nothing changed; make room or name another folder"
    )


def _make_folder(folder: Path) -> Path | None:
    """Make the folder; return the topmost one that was not there before."""
    if folder.is_dir():
        return None
    top = folder
    while not top.parent.is_dir():
        top = top.parent
    folder.mkdir(parents=True)
    return top
