"""Parts of kernels whose code is only kept to be linked into what calls them.

This rests on how numba's code libraries work inside: `knifecam.compiled` asks for it only with the
releases of numba that it was tried with.
"""

from __future__ import annotations

from typing import Any

from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, PassManager, register_pass
from numba.core.untyped_passes import IRProcessing


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


class PartCompiler(CompilerBase):
    """numba's own passes, but for where the code goes: to hand to ``njit`` as ``pipeline_class``."""

    def define_pipelines(self) -> list[PassManager]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(_KeepForCallers, IRProcessing)
        passes.finalize()
        return [passes]
