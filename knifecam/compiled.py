"""How kernels are compiled, and where their code is kept.

A compiler that keeps code on the disk looks at the file of a function alone, not at what it calls
in others. So code is kept in a folder named by a digest of all sources of the package and of what
compiles them: whatever changes, another folder is used, and code of other sources cannot run. A
kernel may call what stands in other modules. Folders that nothing has used for `UNUSED` go, but for
the last `LEAST_FOLDERS_KEPT`.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

import numba
from numba import njit

LEAST_FOLDERS_KEPT = 3
"""Folders of compiled code that stay in any case: the last states of the sources."""

UNUSED = 7 * 24 * 3600.0
"""s since a process last began to use a folder, before it goes."""

NO_VECTORS = "KNIFECAM_NO_VECTORS"
"""Set in the environment, this has eight numbers compiled as tuples (`knifecam.sweep.vector8`)."""

_ANY: dict[str, Any] = {"error_model": "numpy", "no_rewrites": True, "no_cfunc_wrapper": True}
"""Of every kernel. Nothing is rewritten that none of them has; division by 0 gives no error."""

_PART = _ANY | {"no_cpython_wrapper": True}

inner = njit(**_PART)
"""Compiles what only compiled code calls; without a way in from Python it takes less time."""

close = njit(**_PART, forceinline=True)
"""Compiles what goes whole into what calls it: a call costs more than eight columns take."""


def outer(plain: Callable[..., Any]) -> Any:
    """Compile what Python calls, keep it on disk, and let other threads run meanwhile.

    Where no folder can be written to, it is not kept, and compiled anew by every process.
    """
    folder = code_folder()
    if folder is not None:
        with suppress(RuntimeError), _kept_in(folder):  # numba found no place for it
            return njit(**_ANY, nogil=True, cache=True)(plain)
    return njit(**_ANY, nogil=True)(plain)


def is_first_run() -> bool:
    """Return whether nothing of these sources has been compiled on this machine yet."""
    folder = code_folder()
    return folder is None or next(folder.rglob("*.nbi"), None) is None


@cache
def code_folder() -> Path | None:
    """Return the folder of these sources' compiled code; None where none can be written to."""
    home = _cache_home() / "knifecam"
    folder = home / source_digest()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        os.utime(folder)
    except OSError:
        return None
    if not os.access(folder, os.W_OK):
        return None
    _drop_older(home)
    return folder


@cache
def source_digest() -> str:
    """Return the digest of all sources of the package and of what compiles them.

    It has sixteen hexadecimal digits.
    """
    compiler = f"{numba.__version__} {os.environ.get(NO_VECTORS, '')}"
    digest = hashlib.sha256(compiler.encode())
    root = Path(__file__).parent
    for path in sorted(root.rglob("*.py")):
        digest.update(f"{path.relative_to(root).as_posix()}\0".encode())
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:16]


def _cache_home() -> Path:
    """Return where this machine keeps what can be made anew."""
    if os.environ.get("NUMBA_CACHE_DIR"):
        return Path(os.environ["NUMBA_CACHE_DIR"])
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        return Path(os.environ["LOCALAPPDATA"])
    with suppress(RuntimeError):  # no home
        return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return Path(__file__).parent / "__pycache__"


def _drop_older(home: Path) -> None:
    """Remove the folders of states of the sources that nothing uses any more."""
    with suppress(OSError):
        used = {folder: folder.stat().st_mtime for folder in home.iterdir()}
        for folder in sorted(used, key=lambda folder: used[folder])[:-LEAST_FOLDERS_KEPT]:
            if used[folder] < time.time() - UNUSED:
                shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _kept_in(folder: Path) -> Iterator[None]:
    """Let what is compiled now be kept in a folder, and leave other code's setting as it was."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(folder)
    try:
        yield
    finally:
        numba.config.CACHE_DIR = before
