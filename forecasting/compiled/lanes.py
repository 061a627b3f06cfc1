"""Numbers that stand side by side in vector registers, for compiled loops over a few numbers at once.

One operation is done for all lanes together, each lane rounded as a single number would be. A compiler finds this by
itself only in long inner loops over arrays; a loop over ten smoothing constants, whose states had best never leave the
registers, it runs number by number. A machine without registers of that width takes several for one value.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba import extending, types
from numba.core import cgutils
from numba.core.errors import TypingError
from numba.extending import models, overload, register_model

# Its type says nothing of what compiled code makes of a call.
intrinsic: Any = extending.intrinsic

INSTRUCTIONS = {
    operator.add: "fadd",
    operator.iadd: "fadd",
    operator.sub: "fsub",
    operator.mul: "fmul",
    operator.truediv: "fdiv",
}


class Lanes(types.Type):
    """So many floats; the lanes up to the next power of two, which registers hold, repeat the last of them."""

    def __init__(self, count: int) -> None:
        self.count = count
        super().__init__(f"Lanes({count})")

    @property
    def width(self) -> int:
        return 1 << (self.count - 1).bit_length()


@register_model(Lanes)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Lanes) -> None:
        super().__init__(manager, kind, ir.VectorType(ir.DoubleType(), kind.width))


@intrinsic
def lanes(_context: Any, numbers: types.UniTuple) -> tuple[Any, Callable[..., Any]]:
    """Return the floats of a tuple as lanes."""
    kind = Lanes(numbers.count)

    def generate(_context: Any, builder: ir.IRBuilder, _signature: Any, arguments: Any) -> Any:
        return _filled(builder, kind, lambda i: builder.extract_value(arguments[0], i))

    return kind(numbers), generate


@intrinsic
def read_lanes(_context: Any, rows: types.Array, place: types.Integer, like: Lanes) -> tuple[Any, Callable[..., Any]]:
    """Return the first floats of a row of a matrix, as many as another value has."""

    def generate(context: Any, builder: ir.IRBuilder, signature: Any, arguments: Any) -> Any:
        pointer = _pointers(context, builder, signature.args[0], arguments[0], arguments[1])
        return _filled(builder, like, lambda i: builder.load(pointer(i)))

    return like(_matrix(rows), place, like), generate


@intrinsic
def write_lanes(_context: Any, value: Lanes, rows: types.Array, place: types.Integer) -> tuple[Any, Callable[..., Any]]:
    """Write lanes into the first places of a row of a matrix."""

    def generate(context: Any, builder: ir.IRBuilder, signature: Any, arguments: Any) -> Any:
        pointer = _pointers(context, builder, signature.args[1], arguments[1], arguments[2])
        for i in range(value.count):
            builder.store(builder.extract_element(arguments[0], cgutils.int32_t(i)), pointer(i))
        return context.get_dummy_value()

    return types.void(value, _matrix(rows), place), generate


@intrinsic
def at_least(_context: Any, value: Lanes, bound: types.Float) -> tuple[Any, Callable[..., Any]]:
    """Return lanes raised to one number where they are below it."""

    def generate(_context: Any, builder: ir.IRBuilder, _signature: Any, arguments: Any) -> Any:
        number, bounds = arguments[0], _spread(builder, value, arguments[1])
        return builder.select(builder.fcmp_ordered("<", number, bounds), bounds, number)

    return value(value, bound), generate


def _matrix(kind: types.Array) -> types.Array:
    if kind.ndim != 2 or kind.dtype != types.float64:
        raise TypingError(f"lanes are read from and written to rows of a matrix of floats; got {kind}")
    return kind


def _pointers(context: Any, builder: ir.IRBuilder, kind: types.Array, value: Any, place: Any) -> Callable[[int], Any]:
    """Return where the numbers of a row stand."""
    matrix = context.make_array(kind)(context, builder, value)
    return lambda i: cgutils.get_item_pointer(context, builder, kind, matrix, [place, cgutils.intp_t(i)])


def _filled(builder: ir.IRBuilder, kind: Lanes, number: Callable[[int], Any]) -> Any:
    """Return a vector of the numbers at 0, 1, .., the last of them repeated."""
    numbers = [number(i) for i in range(kind.count)]
    vector = ir.Constant(ir.VectorType(ir.DoubleType(), kind.width), ir.Undefined)
    for i in range(kind.width):
        vector = builder.insert_element(vector, numbers[min(i, kind.count - 1)], cgutils.int32_t(i))
    return vector


def _spread(builder: ir.IRBuilder, kind: Lanes, number: Any) -> Any:
    """Return a vector of one number in all lanes."""
    return _filled(builder, kind, lambda _: number)


def _arithmetic(instruction: str) -> Any:
    @intrinsic
    def calculate(_context: Any, left: Any, right: Any) -> tuple[Any, Callable[..., Any]]:
        kind = left if isinstance(left, Lanes) else right

        def generate(_context: Any, builder: ir.IRBuilder, signature: Any, arguments: Any) -> Any:
            sides = zip(signature.args, arguments, strict=True)
            vectors = [side if of == kind else _spread(builder, kind, side) for of, side in sides]
            return getattr(builder, instruction)(*vectors)

        return kind(*(side if side == kind else types.float64 for side in (left, right))), generate

    return calculate


def _teach(operation: Callable[[Any, Any], Any], instruction: str) -> None:
    """Let compiled code calculate with lanes, and with lanes and one number for all of them."""
    calculate = _arithmetic(instruction)

    @overload(operation)
    def of_lanes(left: Any, right: Any) -> Any:
        def value(left: Any, right: Any) -> Any:
            return calculate(left, right)

        return value if isinstance(left, Lanes) or isinstance(right, Lanes) else None


for _operation, _instruction in INSTRUCTIONS.items():
    _teach(_operation, _instruction)
