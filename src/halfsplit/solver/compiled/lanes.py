"""Eight variants side by side: a vector of doubles, one variant to a lane, and masks that say of each lane yes or no.

The compiler's own vectoriser makes nothing of loops over eight; with these types every operation below is one or two machine instructions, with or
without the widest registers. Arrays of lanes are (rows, WIDTH); `load` and `store` move a row. A number that meets lanes counts in all of them.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba import njit, types
from numba.core import cgutils
from numba.extending import intrinsic, models, overload, register_model

WIDTH = 8
_BIT, _LONG, _DOUBLE = ir.IntType(1), ir.IntType(64), ir.DoubleType()
_DOUBLES, _LONGS, _BITS = (ir.VectorType(t, WIDTH) for t in (_DOUBLE, _LONG, _BIT))


class LanesType(types.Type):
    """Eight doubles."""

    def __init__(self) -> None:
        super().__init__(name="Lanes")


class MaskType(types.Type):
    """Eight times yes or no."""

    def __init__(self) -> None:
        super().__init__(name="Mask")


lanes_t, mask_t = LanesType(), MaskType()


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, _DOUBLES)


@register_model(MaskType)
class _MaskModel(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, _BITS)


def _filled(value: float | int, kind: Any) -> Any:
    return ir.Constant(ir.VectorType(kind, WIDTH), [ir.Constant(kind, value)] * WIDTH)


def _spread(builder: Any, x: Any) -> Any:
    vector = ir.VectorType(x.type, WIDTH)
    first = builder.insert_element(ir.Constant(vector, ir.Undefined), x, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(first, ir.Constant(vector, ir.Undefined), _filled(0, ir.IntType(32)))


def _as_lanes(context: Any, builder: Any, kind: Any, x: Any) -> Any:
    return x if kind == lanes_t else _spread(builder, context.cast(builder, x, kind, types.float64))


def _both(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    return (_as_lanes(context, builder, t, x) for t, x in zip(sig.args[-2:], args[-2:], strict=True))


def _meets(*kinds: Any) -> bool:
    return lanes_t in kinds and all(t == lanes_t or isinstance(t, types.Float | types.Integer) for t in kinds)


def _address(context: Any, builder: Any, kind: Any, array: Any, row: Any) -> Any:
    data = context.make_array(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [builder.mul(row, ir.Constant(_LONG, WIDTH))]), _DOUBLES.as_pointer())


@intrinsic
def load(typingctx: Any, array: Any, row: Any) -> Any:
    """A row of an array (rows, WIDTH)."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return builder.load(_address(context, builder, sig.args[0], *args), align=8)

    return lanes_t(array, types.int64), codegen


@intrinsic
def store(typingctx: Any, array: Any, row: Any, x: Any) -> Any:
    """Put lanes, or one number for all of them, into a row of an array (rows, WIDTH)."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        lanes = _as_lanes(context, builder, sig.args[2], args[2])
        builder.store(lanes, _address(context, builder, sig.args[0], *args[:2]), align=8)
        return context.get_dummy_value()

    return types.void(array, types.int64, x), codegen


@intrinsic
def splat(typingctx: Any, x: Any) -> Any:
    """One number in all lanes."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return _as_lanes(context, builder, sig.args[0], args[0])

    return lanes_t(x), codegen


@intrinsic
def where(typingctx: Any, mask: Any, a: Any, b: Any) -> Any:
    """a in the lanes of the mask, b in the others."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return builder.select(args[0], *_both(context, builder, sig, args))

    return lanes_t(mask_t, a, b), codegen


@intrinsic
def any_of(typingctx: Any, mask: Any) -> Any:
    """Whether the mask has any lane."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        kind = ir.IntType(WIDTH)
        return builder.icmp_unsigned("!=", builder.bitcast(args[0], kind), ir.Constant(kind, 0))

    return types.boolean(mask_t), codegen


@intrinsic
def nobody(typingctx: Any) -> Any:
    """The mask without any lane."""
    return mask_t(), lambda context, builder, sig, args: _filled(0, _BIT)


@intrinsic
def take_next(typingctx: Any, counter: Any) -> Any:
    """The number in counter (1,), which goes up by one; no two threads get the same."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        data = context.make_array(sig.args[0])(context, builder, args[0]).data
        return builder.atomic_rmw("add", data, ir.Constant(_LONG, 1), "monotonic")

    return types.int64(counter), codegen


def _operation(build: Callable[[Any, Any, Any], Any], out: Any) -> Any:
    @intrinsic
    def op(typingctx: Any, a: Any, b: Any) -> Any:
        return out(a, b), lambda context, builder, sig, args: build(builder, *_both(context, builder, sig, args))

    return op


def _logic(name: str) -> Any:
    @intrinsic
    def op(typingctx: Any, a: Any, b: Any) -> Any:
        return mask_t(a, b), lambda context, builder, sig, args: getattr(builder, name)(*args)

    return op


def _offer(target: Any, op: Any, fits: Callable[[Any, Any], bool]) -> None:
    @overload(target)  # never inline="always": variables that are used again then keep stale values
    def _chosen(a, b):  # type: ignore[no-untyped-def]  # the compiler compares the signatures
        return (lambda a, b: op(a, b)) if fits(a, b) else None


def _one_more(target: Any, op: Any, fits: Callable[[Any], bool]) -> None:
    @overload(target)  # never inline="always": variables that are used again then keep stale values
    def _chosen(a):  # type: ignore[no-untyped-def]
        return (lambda a: op(a)) if fits(a) else None


def _arithmetic(name: str) -> Callable[[Any, Any, Any], Any]:
    return lambda builder, x, y: getattr(builder, name)(x, y, flags=("contract",))


def _comparison(sign: str) -> Callable[[Any, Any, Any], Any]:
    return lambda builder, x, y: builder.fcmp_ordered(sign, x, y)


@intrinsic
def _negative(typingctx: Any, a: Any) -> Any:
    return lanes_t(a), lambda context, builder, sig, args: builder.fneg(args[0])


@intrinsic
def _contrary(typingctx: Any, a: Any) -> Any:
    return mask_t(a), lambda context, builder, sig, args: builder.not_(args[0])


for _target, _name in ((operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul"), (operator.truediv, "fdiv")):
    _offer(_target, _operation(_arithmetic(_name), lanes_t), _meets)
for _target, _sign in ((operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="), (operator.eq, "==")):
    _offer(_target, _operation(_comparison(_sign), mask_t), _meets)
for _target, _name in ((operator.and_, "and_"), (operator.or_, "or_")):
    _offer(_target, _logic(_name), lambda a, b: a == mask_t and b == mask_t)
_one_more(operator.neg, _negative, lambda a: bool(a == lanes_t))
_one_more(operator.invert, _contrary, lambda a: bool(a == mask_t))


def _machine(name: str, count: int) -> Any:
    """An operation that every machine has an instruction for."""

    def call(builder: Any, args: Any) -> Any:
        kind = ir.FunctionType(_DOUBLES, [_DOUBLES] * count)
        return builder.call(cgutils.get_or_insert_function(builder.module, kind, f"llvm.{name}.v{WIDTH}f64"), args)

    if count == 2:
        return _operation(lambda builder, x, y: call(builder, (x, y)), lanes_t)

    @intrinsic
    def op(typingctx: Any, a: Any) -> Any:
        return lanes_t(a), lambda context, builder, sig, args: call(builder, args)

    return op


absolute, whole, root = _machine("fabs", 1), _machine("floor", 1), _machine("sqrt", 1)
least, most = _machine("minnum", 2), _machine("maxnum", 2)


@intrinsic
def _times_power_of_two(typingctx: Any, y: Any, t: Any) -> Any:
    """y * 2^n, where adding _MOVER has put the whole number n into the low bits of t."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        power = builder.shl(builder.bitcast(args[1], _LONGS), _filled(52, _LONG))
        return builder.bitcast(builder.add(builder.bitcast(args[0], _LONGS), power), _DOUBLES)

    return lanes_t(y, t), codegen


@intrinsic
def _exponent(typingctx: Any, x: Any) -> Any:
    """The power of two in x, as a number."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        bits = builder.lshr(builder.bitcast(args[0], _LONGS), _filled(52, _LONG))
        moved = builder.bitcast(builder.or_(bits, _filled(0x4330000000000000, _LONG)), _DOUBLES)
        return builder.fsub(moved, _filled(4503599627370496.0 + 1023.0, _DOUBLE))

    return lanes_t(x), codegen


@intrinsic
def _mantissa(typingctx: Any, x: Any) -> Any:
    """x without its power of two, 1 to 2."""

    def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        bits = builder.and_(builder.bitcast(args[0], _LONGS), _filled(0x000FFFFFFFFFFFFF, _LONG))
        return builder.bitcast(builder.or_(bits, _filled(0x3FF0000000000000, _LONG)), _DOUBLES)

    return lanes_t(x), codegen


_inner = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True, _nrt=False)
_MOVER = 6755399441055744.0  # 1.5 * 2^52: a number added to it is rounded to a whole one, in the low bits
_PER_TWO, _TWO_HIGH, _TWO_LOW, _TWO = 1.4426950408889634, 6.93145751953125e-1, 1.42860682030941723212e-6, 0.6931471805599453


@_inner
def exponential(x):
    """e^x to 1e-14, for |x| up to 700; beyond, as there."""
    x = most(least(x, 700.0), -700.0)
    t = x * _PER_TWO + _MOVER
    n = t - _MOVER
    r = x - n * _TWO_HIGH - n * _TWO_LOW
    p = r * (1.0 / 39916800.0) + 1.0 / 3628800.0
    p = p * r + 1.0 / 362880.0
    p = p * r + 1.0 / 40320.0
    p = p * r + 1.0 / 5040.0
    p = p * r + 1.0 / 720.0
    p = p * r + 1.0 / 120.0
    p = p * r + 1.0 / 24.0
    p = p * r + 1.0 / 6.0
    p = p * r + 0.5
    p = p * r + 1.0
    p = p * r + 1.0
    return _times_power_of_two(p, t)


@_inner
def logarithm(x):
    """ln x to 1e-15, for positive x; of others, nothing of use."""
    n, m = _exponent(x), _mantissa(x)
    high = m > 1.4142135623730951
    m = where(high, 0.5 * m, m)
    n = where(high, n + 1.0, n)
    s = (m - 1.0) / (m + 1.0)
    q = s * s
    p = q * (1.0 / 19.0) + 1.0 / 17.0
    p = p * q + 1.0 / 15.0
    p = p * q + 1.0 / 13.0
    p = p * q + 1.0 / 11.0
    p = p * q + 1.0 / 9.0
    p = p * q + 1.0 / 7.0
    p = p * q + 1.0 / 5.0
    p = p * q + 1.0 / 3.0
    p = p * q + 1.0
    return n * _TWO + 2.0 * s * p
