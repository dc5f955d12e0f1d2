"""How kernels are compiled: what Python calls, and the parts that only compiled code calls.

numba makes machine code of every function it compiles, and of what that calls once more within it.
Of a part nobody ever runs the first: half the time of a first run went into it. So a part's code is
only kept to be linked into its callers, where it is inlined, optimised and compiled once. Results
and speed are the same.

This rests on how numba works inside (`knifecam.linked`), and is done only with releases it was tried
with (`TRIED`); any other compiles parts as usual, which takes longer and is all that changes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
from numba import njit

TRIED = ((0, 68),)
"""Releases of numba, major and minor, whose parts may stay without machine code."""

_ANY: dict[str, Any] = {"error_model": "numpy", "no_rewrites": True, "no_cfunc_wrapper": True}
"""Of every kernel. Nothing is rewritten that none of them has; division by 0 gives no error."""

_PART = _ANY | {"no_cpython_wrapper": True}
if numba.version_info.short in TRIED:
    from knifecam.linked import PartCompiler

    _PART["pipeline_class"] = PartCompiler

inner = njit(**_PART)
"""Compiles what only compiled code calls; without a way in from Python it takes less time."""

close = njit(**_PART, forceinline=True)
"""Compiles what goes whole into what calls it: a call costs more than eight columns take."""


def outer(plain: Callable[..., Any]) -> Any:
    """Compile what Python calls, keep it on disk, and let other threads run meanwhile.

    Where no folder can be written to, it is not kept, and compiled anew by every process.
    """
    try:
        return njit(**_ANY, nogil=True, cache=True)(plain)
    except RuntimeError:  # numba found no place for it
        return njit(**_ANY, nogil=True)(plain)
