"""Files that are read only where they end, and appear whole or not at all; lines for the screen.

A folder's files are exchanged in four steps: all new files are written to `EXCHANGE_FOLDER`, a
folder in it; a journal there names them and what they replace; the old files move there; the new
ones move out. Broken off before the journal stands, nothing has changed. Broken off later, the
folder shows files of one set only, and whoever writes there next finishes the exchange by the
journal. What cannot be shown on the screen costs neither files nor exit status.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
import sys
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from knifecam.errors import OutputError

try:
    import fcntl
except ImportError:  # a system without them: two writers at once are not kept apart there
    fcntl = None  # type: ignore[assignment]

Writer = Callable[[Path], None]
Ours = Callable[[Path], Collection[str]]
"""Returns which files of a folder are ours to replace or remove."""

EXCHANGE_FOLDER, EXCHANGE_LOCK = ".knifecam-exchange", ".knifecam-lock"
"""What an exchange keeps in the folder until it is over."""

PATIENCE = 60.0
"""s that one writer waits for another."""

_SPECIAL_FILES = (
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
    for is_kind, kind in _SPECIAL_FILES:
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
    folder: Path,
    contents: Mapping[str, str | Writer],
    *,
    stale: Collection[str] = (),
    ours: Ours | None = None,
) -> None:
    """Write all files into ``folder`` and take ``stale`` ones away, or leave it as it was.

    ``contents`` maps names to a text, or to a function that writes the file; one that writes none
    leaves its name out. The first name leaves first and comes last. Nothing is replaced or removed
    but what ``ours`` names, if it is given.

    Raises
    ------
    OutputError
        When the folder cannot be made, a file in it not be written or replaced, or is not ours.
    KeyboardInterrupt
        With an argument that says so, when all has been written.
    """
    folder = folder.absolute()
    names = (*contents, *stale)
    refuse_folder(folder, names)
    made: list[Path] = []
    try:
        made += _make_folder(folder)
        with _locked(folder, PATIENCE):
            _mend(folder)
            refuse_folder(folder, names, ours)
            _renew(folder, contents, names)
    except BaseException as error:
        for one in made:
            with suppress(OSError):  # it holds what someone else has put there
                one.rmdir()
        if isinstance(error, OSError):
            raise _refusal(folder, error) from error
        raise


def mend(folder: Path) -> bool:
    """Finish an exchange that was broken off, remove what it left; return whether there was one.

    Raises
    ------
    OutputError
        When a file has come since where one of the exchange's belongs.
    """
    folder = folder.absolute()
    if not any(os.path.lexists(folder / name) for name in (EXCHANGE_FOLDER, EXCHANGE_LOCK)):
        return False
    try:
        with _locked(folder, 0.0):
            return _mend(folder)
    except TimeoutError:  # another writer is at work, and ends it
        return False
    except OSError as error:
        raise _refusal(folder, error) from error


def refuse_folder(folder: Path, names: Iterable[str] = (), ours: Ours | None = None) -> None:
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
    known = ours(folder) if ours else None
    for name in dict.fromkeys(names):
        _refuse_name(folder, name, known)


def _refuse_name(folder: Path, name: str, known: Collection[str] | None) -> None:
    try:
        kind = (folder / name).lstat().st_mode
    except OSError:
        return
    if not stat.S_ISREG(kind):
        what = "a folder" if stat.S_ISDIR(kind) else "no plain file"
        raise OutputError(
            f"--out={folder}: {name} is {what} there, and a file of that name is to be"
            " written; name another folder, or move it"
        )
    if known is not None and name not in known:
        raise _not_ours(folder, name)


def _not_ours(folder: Path, name: str) -> OutputError:
    return OutputError(
        f"--out={folder}: {name} is there, and it is not as knifecam wrote it; move it, or name"
        " another folder"
    )


def digest_of(content: bytes) -> str:
    """Return the SHA-256 of a file's content in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def _renew(folder: Path, contents: Mapping[str, str | Writer], names: Collection[str]) -> None:
    """Exchange the files ``names`` for ``contents``; as long as that fails, undo it."""
    beside = folder / EXCHANGE_FOLDER
    try:
        for one in (beside, beside / "new", beside / "old"):
            os.mkdir(one)
        for name, content in contents.items():
            _write(beside / "new" / name, content)
        journal = _journal(folder, contents, names)
        _exchange(folder, journal)
    except BaseException:
        _undo(folder)
        _clear(beside)
        raise
    try:
        _clear(beside)
    except KeyboardInterrupt as stop:
        raise KeyboardInterrupt(f"everything was written to {folder}") from stop


def _journal(
    folder: Path, contents: Iterable[str], names: Iterable[str]
) -> dict[str, dict[str, str]]:
    """Return what is exchanged, new and old files with their digests, once the disk holds it."""
    beside = folder / EXCHANGE_FOLDER
    places = {
        "new": {name: beside / "new" / name for name in contents},
        "old": {name: folder / name for name in dict.fromkeys(names)},
    }
    journal = {
        which: {n: digest_of(p.read_bytes()) for n, p in those.items() if p.is_file()}
        for which, those in places.items()
    }
    _write(beside / "journal.new", json.dumps(journal))
    _sync(beside / "new")
    os.replace(beside / "journal.new", beside / "journal")
    _sync(beside)
    _sync(folder)
    return journal


def _exchange(folder: Path, journal: Mapping[str, Mapping[str, str]]) -> None:
    """Move the old files away and the new ones in, as far as that has not been done yet."""
    new, old = folder / EXCHANGE_FOLDER / "new", folder / EXCHANGE_FOLDER / "old"
    for name, digest in journal["old"].items():
        placed = name in journal["new"] and not (new / name).exists()
        if placed or not os.path.lexists(folder / name):
            continue
        _refuse_name(folder, name, journal["old"])
        if digest_of((folder / name).read_bytes()) != digest:
            raise _not_ours(folder, name)
        os.replace(folder / name, old / name)
    for name in reversed(list(journal["new"])):
        if (new / name).exists():
            _refuse_name(folder, name, ())
            os.replace(new / name, folder / name)
    _sync(folder)


def _undo(folder: Path) -> None:
    """Move back what `_exchange` has moved so far, as seen from the disk."""
    journal, new, old = (folder / EXCHANGE_FOLDER / name for name in ("journal", "new", "old"))
    if not journal.exists():
        return
    for name in json.loads(journal.read_text("ascii"))["new"]:
        if not (new / name).exists():
            os.replace(folder / name, new / name)
    for path in sorted(old.iterdir()):
        if not os.path.lexists(folder / path.name):
            os.replace(path, folder / path.name)


def _mend(folder: Path) -> bool:
    """Finish what the journal of a broken exchange names; without one nothing had changed."""
    beside = folder / EXCHANGE_FOLDER
    if not beside.is_dir():
        return False
    with suppress(FileNotFoundError):
        _exchange(folder, json.loads((beside / "journal").read_text("ascii")))
    _clear(beside)
    return True


def _clear(beside: Path) -> None:
    """Remove all that is beside, the journal first: without it, it is known to be of no use."""
    with suppress(FileNotFoundError):
        os.unlink(beside / "journal")
        _sync(beside)
    with suppress(FileNotFoundError):
        shutil.rmtree(beside)


def _write(path: Path, content: str | Writer) -> None:
    """Write a file so that a power cut no longer harms it."""
    if isinstance(content, str):
        path.write_text(content, encoding="ascii", newline="\n")
    else:
        content(path)
    if path.exists():
        _sync(path)


def _sync(path: Path) -> None:
    """Have the disk hold a file, or a folder's names where the system can promise that."""
    with suppress(*((OSError,) if path.is_dir() else ())):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def _locked(folder: Path, patience: float) -> Iterator[None]:
    """Keep other writers out of a folder; wait for one that is there.

    Raises
    ------
    TimeoutError
        When it is still there after ``patience`` seconds.
    """
    path, until = folder / EXCHANGE_LOCK, time.monotonic() + patience
    while (handle := _lock(path)) is None:
        if time.monotonic() >= until:
            raise TimeoutError(
                0, "another run is writing there; wait until it has ended", str(path)
            )
        time.sleep(0.01)
    try:
        yield
    finally:
        with suppress(FileNotFoundError):
            os.unlink(path)
        os.close(handle)


def _lock(path: Path) -> int | None:
    """Return a handle of the locked file, or None while another holds it."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        if fcntl is None:
            return handle
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if os.path.samestat(os.fstat(handle), os.stat(path)):
            return handle
    except (BlockingIOError, FileNotFoundError):
        pass
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _refusal(folder: Path, error: OSError) -> OutputError:
    """Return an error that names the file wanted, not where it was first written."""
    said = Path(str(error.filename)).name if error.filename else ""
    which = said if said and not said.startswith(".knifecam-") else "a file"
    reason = (error.strerror or str(error)).lower()
    return OutputError(
        f"--out={folder}: {which} cannot be written there: {reason}; nothing was written and"
        " nothing changed; make room or name another folder"
    )


def _make_folder(folder: Path) -> list[Path]:
    """Make the folder; return all that were not there before, the deepest first."""
    made = []
    above = folder
    while not above.is_dir():
        made.append(above)
        above = above.parent
    for one in reversed(made):
        one.mkdir(exist_ok=True)
    return made


def tell(lines: Iterable[str]) -> None:
    """Print lines; tell on the other stream, once, if they do not get through."""
    lost = _printed(sys.stdout, lines)
    if lost:
        tell_error(
            [
                f"the screen lines could not be written: {lost}; files and exit status are not affected"
            ]
        )


def tell_error(lines: Iterable[str]) -> None:
    """Print lines to the stream of errors, as far as that goes."""
    _printed(sys.stderr, lines)


def _printed(stream: TextIO | None, lines: Iterable[str]) -> str:
    """Print lines and return why they did not get through; "" if they did, or nobody reads them."""
    if stream is None:
        return ""
    try:
        for line in lines:
            stream.write(_shown(line, stream) + "\n")
        stream.flush()
    except BrokenPipeError:
        _silence(stream)
    except OSError as error:
        _silence(stream)
        return (error.strerror or str(error)).lower()
    return ""


def _shown(line: str, stream: TextIO) -> str:
    """Return a line in the stream's alphabet; what is not in it as escapes."""
    alphabet = stream.encoding or "utf-8"
    return line.encode(alphabet, "backslashreplace").decode(alphabet)


def _silence(stream: TextIO) -> None:
    """Let what else is written to a stream go nowhere, what it holds back included."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
