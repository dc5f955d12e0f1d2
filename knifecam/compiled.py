"""How kernels are compiled: what Python calls, and the parts that only compiled code calls.

numba makes machine code of every function it compiles, and of what that calls once more within it.
Of a part nobody ever runs the first: half the time of a first run went into it. So a part's code is
only kept to be linked into its callers, where it is inlined, optimised and compiled once. Results
and speed are the same.

This rests on how numba's code libraries work inside, and is done only by releases it was tried
with (`TRIED`); any other compiles parts as usual, which takes longer and is all that changes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
from numba import njit
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, PassManager, register_pass
from numba.core.untyped_passes import IRProcessing

TRIED = ((0, 68),)
"""Releases of numba, major and minor, whose parts may stay without machine code."""


class _NoEnvironment:
    """A code generator that gives no function its Python environment: parts run without."""

    def __init__(self, codegen: Any) -> None:
        self._codegen = codegen

    def __getattr__(self, name: str) -> Any:
        return getattr(self._codegen, name)

    def set_env(self, name: str, environment: Any) -> None:
        """Leave it: the variable is there only once a caller is compiled."""


class _PartLibrary(JITCodeLibrary):
    """A function's code, to be linked into its callers only."""

    @property
    def codegen(self) -> Any:
        """Return the code generator."""
        return _NoEnvironment(self._codegen)

    def get_pointer_to_function(self, name: str) -> int:
        """Return null: nothing can be called."""
        return 0

    def _optimize_final_module(self) -> None:
        """Leave that to the callers."""

    def _finalize_final_module(self) -> None:
        self._finalize_dynamic_globals()
        self._finalized = True


@register_pass(mutates_CFG=False, analysis_only=True)
class _KeepForCallers(FunctionPass):
    """Opens the library that a part's code goes to."""

    _name = "keep_for_callers"

    def __init__(self) -> None:
        super().__init__()

    def run_pass(self, state: Any) -> bool:
        state.library = _PartLibrary(state.targetctx.codegen(), state.func_id.func_qualname)
        state.library.enable_object_caching()
        return False


class _PartCompiler(CompilerBase):
    """numba's own passes, but for where the code goes."""

    def define_pipelines(self) -> list[PassManager]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(_KeepForCallers, IRProcessing)
        passes.finalize()
        return [passes]


_ANY: dict[str, Any] = {"error_model": "numpy", "no_rewrites": True, "no_cfunc_wrapper": True}
"""Of every kernel. Nothing is rewritten that none of them has; division by 0 gives no error."""

_PART = _ANY | {"no_cpython_wrapper": True}
if numba.version_info.short in TRIED:
    _PART["pipeline_class"] = _PartCompiler

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
