"""How pictures are drawn: alike on every machine, names as they are written."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from knifecam.quantity import told

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Given = ParamSpec("Given")
Drawn = TypeVar("Drawn")


def plainly(draw: Callable[Given, Drawn]) -> Callable[Given, Drawn]:
    """Return ``draw`` such that no setting of the machine's reaches it.

    Text is drawn as it is written: a pair of `$` in a name is no formula. A letter that the font
    lacks is an empty box.
    """

    @wraps(draw)
    def drawn(*given: Given.args, **more: Given.kwargs) -> Drawn:
        with _own_settings():
            return draw(*given, **more)

    return drawn


def save(figure: Figure, path: str | Path, units: str) -> None:
    """Write a figure as PNG, its texts told in ``units``. The same figure gives the same bytes."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        text.set_text(told(text.get_text(), units))
    figure.savefig(path, format="png", metadata={"Software": ""})


@contextmanager
def _own_settings() -> Iterator[None]:
    matplotlib = _matplotlib()
    with warnings.catch_warnings(), matplotlib.rc_context():
        warnings.filterwarnings("ignore", "Glyph .* missing")
        matplotlib.rcdefaults()
        matplotlib.rcParams["text.parse_math"] = False
        yield


def _matplotlib() -> Any:
    """Return the drawing library; a way to show windows that it does not know does no harm here."""
    windows = None if "matplotlib" in sys.modules else os.environ.pop("MPLBACKEND", None)
    try:
        import matplotlib
    finally:
        if windows is not None:
            os.environ["MPLBACKEND"] = windows
    if windows is not None:
        with suppress(ValueError):
            matplotlib.rcParams["backend"] = windows
    return matplotlib
