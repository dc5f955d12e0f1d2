"""Lines for the screen: what cannot be shown there costs neither files nor exit status."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from typing import TextIO


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
