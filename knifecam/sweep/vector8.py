"""Eight numbers at a time, in compiled code: one register where the machine has such wide ones.

A loop over columns that is written for eight of them at once needs no luck with the compiler, takes
a tenth of the time to compile, and gives the same result to the last bit whatever the machine's
registers hold. In plain Python eight numbers are an array of eight, and eight answers one of eight
bools; compiled, the same names mean vectors. Arithmetic, comparisons and ``&``, ``|``, ``~`` work
on both, and a single number stands for eight equal ones.

Compiled, arrays are no more than where they lie (`pointer`), so that nothing looks at their ends,
counts who holds them, or keeps them: they have to outlive the call. Places in them are `Index`.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.imputils import lower_builtin
from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
from numba.extending import intrinsic, models, overload, register_model
from numpy.typing import NDArray

Held = TypeVar("Held", bound=NDArray[Any])
Floats = NDArray[np.float64]
Eight = NDArray[np.float64]
"""(8,) numbers."""
Answers = NDArray[np.bool_]
"""(8,) bools."""

Index = np.uintp
"""Numbers that are never negative: arrays are reached by them without a look at their ends."""

EIGHT = Index(8)

DOUBLES, BITS = ir.VectorType(ir.DoubleType(), 8), ir.VectorType(ir.IntType(1), 8)
LANE = ir.IntType(32)
WHOLES = ir.VectorType(LANE, 8)


class _Kind(types.Type):
    """The compiler's name for eight numbers or answers."""


eight_kind, answers_kind = _Kind(name="eight numbers"), _Kind(name="eight answers")
number_kind, whole_kind = types.float64, types.int64


@register_model(_Kind)
class _Model(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: _Kind) -> None:
        super().__init__(manager, kind, DOUBLES if kind is eight_kind else BITS)


# ---- what the names mean in plain Python --------------------------------------------------------


def pointer(array: Held) -> Held:
    """Return an array itself; compiled, no more than where it lies, whoever holds it."""
    return array


def eight(value: float) -> Eight:
    """Return eight times the same number."""
    return np.full(8, float(value))


def load(array: Floats, at: Index) -> Eight:
    """Return eight numbers that lie next to each other."""
    return array[at : at + EIGHT].copy()


def store(array: Floats, at: Index, numbers: Eight) -> None:
    """Write eight numbers next to each other."""
    array[at : at + EIGHT] = numbers


def store_whole(array: NDArray[np.int32], at: Index, where: Answers, numbers: Eight) -> None:
    """Write those of eight numbers, as whole ones, whose answer is yes."""
    array[at : at + EIGHT][where] = numbers[where]


def root(numbers: Eight) -> Eight:
    """Return square roots, of 0 for what is less."""
    return np.asarray(np.sqrt(np.maximum(numbers, 0.0)))


def choose(where: Answers, yes: Eight | float, no: Eight | float) -> Eight:
    """Return numbers by eight answers."""
    return np.asarray(np.where(where, yes, no))


def least(one: Eight, other: Eight | float) -> Eight:
    """Return the lesser of each two."""
    return np.asarray(np.where(one < other, one, other))


def most(one: Eight, other: Eight | float) -> Eight:
    """Return the greater of each two."""
    return np.asarray(np.where(one > other, one, other))


def highest(numbers: Eight) -> float:
    """Return the greatest of eight."""
    return float(np.max(numbers))


def lowest(numbers: Eight) -> float:
    """Return the least of eight."""
    return float(np.min(numbers))


def total(a: Eight) -> float:
    """Return the sum of eight, always added in the same order."""
    return float(((a[0] + a[4]) + (a[2] + a[6])) + ((a[1] + a[5]) + (a[3] + a[7])))


def pattern(answers: Answers) -> int:
    """Return answers as the bits of a number, the first the lowest; 0 if all are no."""
    return int(np.sum(answers << np.arange(8)))


def lane(numbers: Eight, k: int) -> float:
    """Return one of eight numbers."""
    return float(numbers[k])


# ---- and what they mean compiled ----------------------------------------------------------------


@intrinsic
def _data_of(_: object, array: types.Array) -> tuple[object, object]:
    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return types.CPointer(array.dtype)(array), build


@overload(pointer)
def _pointer(array):  # type: ignore[no-untyped-def]
    return lambda array: _data_of(array)


def _spread(builder: Any, value: Any) -> Any:
    """Return a vector of eight equal numbers; what is a vector stays so."""
    if isinstance(value.type, ir.VectorType):
        return value
    one = builder.insert_element(ir.Constant(DOUBLES, ir.Undefined), value, ir.Constant(LANE, 0))
    return builder.shuffle_vector(one, one, ir.Constant(WHOLES, [0] * 8))


def _means(name: Any, forms: list[Any], build: Callable[..., Any]) -> None:
    """Tell the compiler what a name means for each of some (result, argument, ...) forms."""
    cases = [signature(*form) for form in forms]
    infer_global(name)(type("Meaning", (ConcreteTemplate,), {"cases": cases}))

    def lowered(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        made = build(builder, *arguments)
        return context.get_dummy_value() if made is None else made

    for form in forms:
        lower_builtin(name, *form[1:])(lowered)


def _spreading(build: Callable[..., Any]) -> Callable[..., Any]:
    return lambda builder, *given: build(builder, *(_spread(builder, one) for one in given))


_PAIRS = [(eight_kind, eight_kind), (eight_kind, number_kind), (number_kind, eight_kind)]


def _of_two(name: Any, result: Any, build: Callable[..., Any]) -> None:
    _means(name, [(result, *pair) for pair in _PAIRS], _spreading(build))


def _smaller(sign: str) -> Callable[..., Any]:
    return lambda builder, a, b: builder.select(builder.fcmp_ordered(sign, a, b), a, b)


def _answer(sign: str) -> Callable[..., Any]:
    return lambda builder, a, b: builder.fcmp_ordered(sign, a, b)


for _name, _build in {
    operator.add: lambda builder, a, b: builder.fadd(a, b),
    operator.sub: lambda builder, a, b: builder.fsub(a, b),
    operator.mul: lambda builder, a, b: builder.fmul(a, b),
    operator.truediv: lambda builder, a, b: builder.fdiv(a, b),
    least: _smaller("<"),
    most: _smaller(">"),
}.items():
    _of_two(_name, eight_kind, _build)
for _name, _sign in {
    operator.lt: "<", operator.le: "<=", operator.gt: ">", operator.ge: ">=", operator.eq: "==",
}.items():  # fmt: skip
    _of_two(_name, answers_kind, _answer(_sign))
for _name, _build in {
    operator.and_: lambda builder, a, b: builder.and_(a, b),
    operator.or_: lambda builder, a, b: builder.or_(a, b),
}.items():
    _means(_name, [(answers_kind, answers_kind, answers_kind)], _build)
_means(operator.invert, [(answers_kind, answers_kind)], lambda builder, a: builder.not_(a))
_means(operator.neg, [(eight_kind, eight_kind)], lambda builder, a: builder.fneg(a))


def _root(builder: Any, of: Any) -> Any:
    nought = ir.Constant(DOUBLES, [0.0] * 8)
    above = builder.select(builder.fcmp_ordered(">", of, nought), of, nought)
    kind = ir.FunctionType(DOUBLES, [DOUBLES])
    return builder.call(
        cgutils.get_or_insert_function(builder.module, kind, "llvm.sqrt.v8f64"), [above]
    )


def _fold(fold: Callable[..., Any]) -> Callable[..., Any]:
    """Return what folds eight numbers to one, half by half."""

    def build(builder: Any, numbers: Any) -> Any:
        for half in (4, 2, 1):
            halves = [
                builder.shuffle_vector(
                    numbers, numbers, ir.Constant(ir.VectorType(LANE, half), list(places))
                )
                for places in (range(half), range(half, 2 * half))
            ]
            numbers = fold(builder, *halves)
        return builder.extract_element(numbers, ir.Constant(LANE, 0))

    return build


def _pattern(builder: Any, answers: Any) -> Any:
    return builder.zext(builder.bitcast(answers, ir.IntType(8)), ir.IntType(64))


_means(eight, [(eight_kind, number_kind)], _spread)
_means(root, [(eight_kind, eight_kind)], _root)
_means(choose, [(eight_kind, answers_kind, *pair) for pair in [*_PAIRS, (number_kind,) * 2]],
       lambda builder, where, yes, no: builder.select(
           where, _spread(builder, yes), _spread(builder, no)))  # fmt: skip
_means(highest, [(number_kind, eight_kind)], _fold(_smaller(">")))
_means(lowest, [(number_kind, eight_kind)], _fold(_smaller("<")))
_means(total, [(number_kind, eight_kind)], _fold(lambda builder, a, b: builder.fadd(a, b)))
_means(pattern, [(whole_kind, answers_kind)], _pattern)
_means(lane, [(number_kind, eight_kind, whole_kind)],
       lambda builder, numbers, k: builder.extract_element(numbers, k))  # fmt: skip


def _at(builder: Any, array: Any, at: Any, vector: Any) -> Any:
    return builder.bitcast(builder.gep(array, [at]), vector.as_pointer())


def _load(builder: Any, array: Any, at: Any) -> Any:
    return builder.load(_at(builder, array, at, DOUBLES), align=8)


def _store(builder: Any, array: Any, at: Any, numbers: Any) -> None:
    builder.store(numbers, _at(builder, array, at, DOUBLES), align=8)


def _store_whole(builder: Any, array: Any, at: Any, where: Any, numbers: Any) -> None:
    place = _at(builder, array, at, WHOLES)
    before = builder.load(place, align=4)
    builder.store(builder.select(where, builder.fptosi(numbers, WHOLES), before), place, align=4)


_FLOATS, _INTS = types.CPointer(types.float64), types.CPointer(types.int32)
_means(load, [(eight_kind, _FLOATS, types.uintp)], _load)
_means(store, [(types.void, _FLOATS, types.uintp, eight_kind)], _store)
_means(store_whole, [(types.void, _INTS, types.uintp, answers_kind, eight_kind)], _store_whole)
