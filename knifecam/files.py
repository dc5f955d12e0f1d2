"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

Writer = Callable[[Path], None]


def write_whole(folder: Path, contents: Mapping[str, str | Writer]) -> None:
    """Write all files into ``folder``, or none.

    Everything is first written beside the folder; only when all of it is there are the files moved
    into place. ``contents`` maps names to a text, or to a function that writes the file itself.

    Raises
    ------
    OSError
        When the folder cannot be made or written; nothing is left behind then.
    """
    folder = folder.absolute()
    made = _make_folder(folder)
    try:
        with tempfile.TemporaryDirectory(prefix=".knifecam-", dir=folder) as beside:
            for name, content in contents.items():
                path = Path(beside) / name
                if isinstance(content, str):
                    path.write_text(content, encoding="ascii", newline="\n")
                else:
                    content(path)
            for name in contents:
                os.replace(Path(beside) / name, folder / name)
    except BaseException:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)
        raise


def _make_folder(folder: Path) -> Path | None:
    """Make the folder; return the topmost one that was not there before."""
    if folder.is_dir():
        return None
    top = folder
    while not top.parent.is_dir():
        top = top.parent
    folder.mkdir(parents=True)
    return top
