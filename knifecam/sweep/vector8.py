"""Eight numbers at a time, in compiled code: one register where the machine has such wide ones.

A loop over columns that is written for eight of them at once needs no luck with the compiler, takes
a tenth of the time to compile, and gives the same result to the last bit whatever the machine's
registers hold. In plain Python eight numbers are an array of eight, and eight answers one of eight
bools; compiled, the same names mean vectors. Arithmetic, comparisons and ``&``, ``|``, ``~`` work
on both, and a single number stands for eight equal ones.

Compiled, arrays are no more than where they lie (`pointer`), so that nothing looks at their ends,
counts who holds them, or keeps them: they have to outlive the call. Places in them are `Index`.

Vectors rest on the compiler's insides, which no release promises to keep. They are compiled with the
releases that were tried (`TRIED`). With any other the same names mean tuples of eight, which need
its public names alone and give the same bits, more slowly.
"""

from __future__ import annotations

import math
import operator
import os
from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np
from numba import njit, types
from numba.extending import intrinsic, models, overload, register_model
from numpy.typing import NDArray

from knifecam.compiled import NO_VECTORS

Held = TypeVar("Held", bound=NDArray[Any])
Floats = NDArray[np.float64]
Eight = NDArray[np.float64]
"""(8,) numbers."""
Answers = NDArray[np.bool_]
"""(8,) bools."""

Index = np.uintp
"""Numbers that are never negative: arrays are reached by them without a look at their ends."""

EIGHT = Index(8)

TRIED = tuple(f"0.{n}" for n in range(60, 69))
"""The releases of numba with which vectors were tried."""


def _are_tried() -> bool:
    """Return whether vectors were tried with the release of numba that is installed."""
    release = ".".join(numba.__version__.split(".")[:2])
    return release in TRIED and not os.environ.get(NO_VECTORS)


vectors_used = _are_tried()
if vectors_used:
    try:
        from llvmlite import ir
        from numba.core import cgutils
        from numba.core.imputils import lower_builtin
        from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
    except ImportError:
        vectors_used = False


class _Kind(types.Type):
    """The compiler's name for eight numbers or answers."""

    def __init__(self, name: str, dtype: Any) -> None:
        super().__init__(name=name)
        self.dtype = dtype

    def __len__(self) -> int:
        return 8


eight_kind = _Kind("eight numbers", types.float64)
answers_kind = _Kind("eight answers", types.boolean)
number_kind, whole_kind = types.float64, types.int64


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


# ---- what they mean compiled: vectors -----------------------------------------------------------

if vectors_used:
    DOUBLES, BITS = ir.VectorType(ir.DoubleType(), 8), ir.VectorType(ir.IntType(1), 8)
    LANE = ir.IntType(32)
    WHOLES = ir.VectorType(LANE, 8)

    @register_model(_Kind)
    class _Model(models.PrimitiveModel):
        def __init__(self, manager: Any, kind: _Kind) -> None:
            super().__init__(manager, kind, DOUBLES if kind is eight_kind else BITS)

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
        one = builder.insert_element(
            ir.Constant(DOUBLES, ir.Undefined), value, ir.Constant(LANE, 0)
        )
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
        builder.store(
            builder.select(where, builder.fptosi(numbers, WHOLES), before), place, align=4
        )

    _FLOATS, _INTS = types.CPointer(types.float64), types.CPointer(types.int32)
    _means(load, [(eight_kind, _FLOATS, types.uintp)], _load)
    _means(store, [(types.void, _FLOATS, types.uintp, eight_kind)], _store)
    _means(store_whole, [(types.void, _INTS, types.uintp, answers_kind, eight_kind)], _store_whole)

# ---- what they mean compiled: tuples ------------------------------------------------------------

else:
    register_model(_Kind)(models.UniTupleModel)
    _AS_PARTS = {"error_model": "numpy", "no_rewrites": True, "forceinline": True}

    @intrinsic
    def _lanes_of(_: object, numbers: _Kind) -> tuple[object, object]:
        """Return as a tuple what is one already."""
        return types.UniTuple(numbers.dtype, 8)(numbers), lambda _a, _b, _c, given: given[0]

    @intrinsic
    def _of_lanes(_: object, lanes: types.UniTuple) -> tuple[object, object]:
        """Return a tuple as eight numbers or answers."""
        kind = eight_kind if lanes.dtype == number_kind else answers_kind
        return kind(lanes), lambda _a, _b, _c, given: given[0]

    def _lanes(value: Any) -> Any:
        """Return eight as a tuple; a single number stands for eight equal ones."""

    @overload(_lanes, jit_options=_AS_PARTS)
    def _compiled_lanes(value):  # type: ignore[no-untyped-def]
        def repeated(value):  # type: ignore[no-untyped-def]
            v = float(value)
            return v, v, v, v, v, v, v, v

        return (lambda value: _lanes_of(value)) if isinstance(value, _Kind) else repeated

    def _tuples_mean(name: Any, meaning: Callable[..., Any]) -> None:
        """Tell the compiler what a name means where one of its arguments is of eight."""
        overload(name, jit_options=_AS_PARTS, strict=False)(
            lambda *given: meaning if any(isinstance(kind, _Kind) for kind in given) else None
        )

    def _by_lane(one: Callable[..., Any]) -> Callable[..., Any]:
        """Return what makes eight of one for each three lanes."""
        one = njit(**_AS_PARTS)(one)

        @njit(**_AS_PARTS)
        def each(a, b, c):  # type: ignore[no-untyped-def]
            p, q, r = _lanes(a), _lanes(b), _lanes(c)
            return _of_lanes((
                one(p[0], q[0], r[0]), one(p[1], q[1], r[1]), one(p[2], q[2], r[2]),
                one(p[3], q[3], r[3]), one(p[4], q[4], r[4]), one(p[5], q[5], r[5]),
                one(p[6], q[6], r[6]), one(p[7], q[7], r[7]),
            ))  # fmt: skip

        return each

    def _each_of_one(name: Any, one: Callable[..., Any]) -> None:
        each = _by_lane(one)
        _tuples_mean(name, lambda a: each(a, a, a))

    def _each_of_two(name: Any, one: Callable[..., Any]) -> None:
        each = _by_lane(one)
        _tuples_mean(name, lambda a, b: each(a, b, b))

    for _name, _one in {
        operator.add: lambda a, b, _: a + b,
        operator.sub: lambda a, b, _: a - b,
        operator.mul: lambda a, b, _: a * b,
        operator.truediv: lambda a, b, _: a / b,
        operator.lt: lambda a, b, _: a < b,
        operator.le: lambda a, b, _: a <= b,
        operator.gt: lambda a, b, _: a > b,
        operator.ge: lambda a, b, _: a >= b,
        operator.eq: lambda a, b, _: a == b,
        operator.and_: lambda a, b, _: a & b,
        operator.or_: lambda a, b, _: a | b,
        least: lambda a, b, _: a if a < b else b,
        most: lambda a, b, _: a if a > b else b,
    }.items():
        _each_of_two(_name, _one)
    _each_of_one(operator.neg, lambda a, _b, _c: -a)
    _each_of_one(operator.invert, lambda a, _b, _c: not a)
    _each_of_one(root, lambda a, _b, _c: math.sqrt(a if a > 0.0 else 0.0))
    _chosen = _by_lane(lambda where, yes, no: yes if where else no)
    _tuples_mean(choose, lambda where, yes, no: _chosen(where, yes, no))

    def _folds(name: Any, one: Callable[..., Any]) -> None:
        """Tell the compiler that a name folds eight numbers to one, half by half."""
        one = njit(**_AS_PARTS)(one)

        def folded(numbers):  # type: ignore[no-untyped-def]
            p = _lanes_of(numbers)
            even, odd = one(one(p[0], p[4]), one(p[2], p[6])), one(one(p[1], p[5]), one(p[3], p[7]))
            return one(even, odd)

        _tuples_mean(name, folded)

    _folds(highest, lambda a, b: a if a > b else b)
    _folds(lowest, lambda a, b: a if a < b else b)
    _folds(total, lambda a, b: a + b)

    def _compiled_pattern(answers):  # type: ignore[no-untyped-def]
        p = _lanes_of(answers)
        return (
            int(p[0]) | int(p[1]) << 1 | int(p[2]) << 2 | int(p[3]) << 3
            | int(p[4]) << 4 | int(p[5]) << 5 | int(p[6]) << 6 | int(p[7]) << 7
        )  # fmt: skip

    def _compiled_store(array, at, numbers):  # type: ignore[no-untyped-def]
        p = _lanes_of(numbers)
        for k in range(8):
            array[at + Index(k)] = p[k]

    def _compiled_store_whole(array, at, where, numbers):  # type: ignore[no-untyped-def]
        yes, p = _lanes_of(where), _lanes_of(numbers)
        for k in range(8):
            if yes[k]:
                array[at + Index(k)] = np.int32(p[k])

    _tuples_mean(pattern, _compiled_pattern)
    _tuples_mean(store, _compiled_store)
    _tuples_mean(store_whole, _compiled_store_whole)
    _tuples_mean(lane, lambda numbers, k: _lanes_of(numbers)[k])
    overload(pointer)(lambda array: lambda array: array)
    overload(eight, jit_options=_AS_PARTS)(
        lambda value: lambda value: _of_lanes(_lanes(float(value)))
    )

    @overload(load, jit_options=_AS_PARTS)
    def _compiled_load(array, at):  # type: ignore[no-untyped-def]
        def loaded(array, at):  # type: ignore[no-untyped-def]
            return _of_lanes((
                array[at], array[at + Index(1)], array[at + Index(2)], array[at + Index(3)],
                array[at + Index(4)], array[at + Index(5)], array[at + Index(6)], array[at + Index(7)],
            ))  # fmt: skip

        return loaded
