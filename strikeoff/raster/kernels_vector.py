"""Vector steps that the compiler does not find by itself, as LLVM vector operations.

LLVM turns them into what the processor has (compare masks, byte shuffles, or plain code), so that the
same whole numbers come out on every machine. Each has a plain reference in its tests. Arrays are
contiguous and indices are not checked: callers see to both.
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba.core import types
from numba.extending import intrinsic

_I1, _I8, _I16, _I32 = ir.IntType(1), ir.IntType(8), ir.IntType(16), ir.IntType(32)


def _pointer(context: Any, builder: Any, array_type: Any, array: Any, index: Any) -> Any:
    """Return a pointer to an element of the flat data of an array."""
    data = context.make_array(array_type)(context, builder, array).data
    return builder.gep(data, [index])


def _load(builder: Any, pointer: Any, kind: Any) -> Any:
    loaded = builder.load(builder.bitcast(pointer, kind.as_pointer()))
    loaded.align = 1
    return loaded


def _store(builder: Any, value: Any, pointer: Any) -> None:
    builder.store(value, builder.bitcast(pointer, value.type.as_pointer()), align=1)


def _order(places: list[int]) -> Any:
    return ir.Constant(ir.VectorType(_I32, len(places)), places)


def _splat(builder: Any, value: Any, count: int) -> Any:
    kind = ir.VectorType(value.type, count)
    first = builder.insert_element(ir.Constant(kind, ir.Undefined), value, ir.Constant(_I32, 0))
    return builder.shuffle_vector(first, first, _order([0] * count))


@intrinsic
def pack_32(typing_context: Any, samples: Any, i: Any, limits: Any, j: Any, out: Any, k: Any) -> Any:
    """Compare 32 samples with limits; store samples > limits as 4 bytes at ``out[k]``, first one topmost."""
    signature = types.void(samples, types.intp, limits, types.intp, out, types.intp)

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        wide = ir.VectorType(_I16, 32)
        found = _load(builder, _pointer(context, builder, signature.args[0], args[0], args[1]), wide)
        limit = _load(builder, _pointer(context, builder, signature.args[2], args[2], args[3]), wide)
        above = builder.icmp_unsigned(">", found, limit)
        turned = builder.shuffle_vector(above, above, _order([8 * (n // 8) + 7 - n % 8 for n in range(32)]))
        packed = builder.bitcast(turned, _I32)
        _store(builder, packed, _pointer(context, builder, signature.args[4], args[4], args[5]))
        return context.get_dummy_value()

    return signature, generate


@intrinsic
def pack_levels_32(
    typing_context: Any, samples: Any, i: Any, limits: Any, j: Any, step: Any, out: Any, k: Any
) -> Any:
    """Compare 32 samples with three limits, ``step`` apart; store how many they pass, 2 bits each."""
    signature = types.void(samples, types.intp, limits, types.intp, types.intp, out, types.intp)

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        wide = ir.VectorType(_I16, 32)
        found = _load(builder, _pointer(context, builder, signature.args[0], args[0], args[1]), wide)
        place = args[3]
        passed = []
        for _ in range(3):
            limit = _load(builder, _pointer(context, builder, signature.args[2], args[2], place), wide)
            passed.append(builder.icmp_unsigned(">", found, limit))
            place = builder.add(place, args[4])
        high = passed[1]
        low = builder.xor(builder.xor(passed[0], passed[1]), passed[2])
        # In a byte, least bit first: low and high bit of the fourth pixel, then of the third, ...
        order = [4 * (n // 8) + 3 - n % 8 // 2 + (32 if n % 2 else 0) for n in range(64)]
        packed = builder.bitcast(builder.shuffle_vector(low, high, _order(order)), ir.IntType(64))
        _store(builder, packed, _pointer(context, builder, signature.args[5], args[5], args[6]))
        return context.get_dummy_value()

    return signature, generate


def _transposed(builder: Any, lines: list[Any]) -> list[Any]:
    """Return eight vectors of eight, rows and columns exchanged, in three steps of interleaving."""
    low = _order([0, 8, 1, 9, 2, 10, 3, 11])
    high = _order([4, 12, 5, 13, 6, 14, 7, 15])
    for _ in range(3):
        pairs = [(lines[n], lines[n + 4]) for n in range(4)]
        lines = [builder.shuffle_vector(a, b, order) for a, b in pairs for order in (low, high)]
    return lines


@intrinsic
def cubic_8x8(
    typing_context: Any, between: Any, start: Any, weights: Any, x: Any, out: Any, step: Any, at: Any
) -> Any:
    """Weigh four places of eight lanes into each of eight pixels from ``x`` on, store them lane by lane.

    ``between`` (places, 8) and ``weights`` (pixels, 4) are float32, ``start`` (pixels,) int64; results go to
    ``out[lane * step + at]`` and the seven places after it, float32.
    """
    signature = types.void(between, start, weights, types.intp, out, types.intp, types.intp)

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kinds = signature.args
        eight, index = ir.VectorType(ir.FloatType(), 8), args[3]

        def whole(value: int) -> Any:
            return ir.Constant(index.type, value)

        lines = []
        for pixel in range(8):
            place = builder.add(index, whole(pixel))
            first = builder.load(_pointer(context, builder, kinds[1], args[1], place))
            total = None
            for tap in range(4):
                row = builder.mul(builder.add(first, whole(tap)), whole(8))
                found = _load(builder, _pointer(context, builder, kinds[0], args[0], row), eight)
                where = builder.add(builder.mul(place, whole(4)), whole(tap))
                weight = builder.load(_pointer(context, builder, kinds[2], args[2], where))
                term = builder.fmul(found, _splat(builder, weight, 8))
                total = term if total is None else builder.fadd(total, term)
            lines.append(total)
        for lane, line in enumerate(_transposed(builder, lines)):
            where = builder.add(args[6], builder.mul(args[5], whole(lane)))
            _store(builder, line, _pointer(context, builder, kinds[4], args[4], where))
        return context.get_dummy_value()

    return signature, generate


def _blend(context: Any, builder: Any, signature: Any, args: Any, corners: int) -> Any:
    """Store the rounded mean of eight lanes of some nodes, by weights that sum to 65535."""
    kinds = signature.args
    eight, wide = ir.VectorType(_I16, 8), ir.VectorType(_I32, 8)
    total = ir.Constant(wide, [32767] * 8)
    for corner in range(corners):
        place, weight = args[1 + 2 * corner], args[2 + 2 * corner]
        node = _load(builder, _pointer(context, builder, kinds[0], args[0], place), eight)
        term = builder.mul(builder.zext(node, wide), _splat(builder, weight, 8))
        total = builder.add(total, term)
    # x // 65535 for every x up to 65535 * 65535 + 32767, without a division.
    sixteen = ir.Constant(wide, [16] * 8)
    total = builder.add(builder.add(total, ir.Constant(wide, [1] * 8)), builder.lshr(total, sixteen))
    line = builder.trunc(builder.lshr(total, sixteen), eight)
    _store(builder, line, _pointer(context, builder, kinds[-2], args[-2], args[-1]))
    return context.get_dummy_value()


@intrinsic
def blend_4(
    typing_context: Any, nodes: Any, p0: Any, w0: Any, p1: Any, w1: Any, p2: Any, w2: Any, p3: Any, w3: Any,
    out: Any, at: Any,
) -> Any:  # fmt: skip
    """Blend eight lanes of uint16 ``nodes`` at four places by uint32 weights; store them at ``out[at]``."""
    pair = (types.intp, types.uint32)
    signature = types.void(nodes, *pair, *pair, *pair, *pair, out, types.intp)

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return _blend(context, builder, signature, args, 4)

    return signature, generate


@intrinsic
def blend_5(
    typing_context: Any, nodes: Any, p0: Any, w0: Any, p1: Any, w1: Any, p2: Any, w2: Any, p3: Any, w3: Any,
    p4: Any, w4: Any, out: Any, at: Any,
) -> Any:  # fmt: skip
    """As ``blend_4``, at five places."""
    pair = (types.intp, types.uint32)
    signature = types.void(nodes, *pair, *pair, *pair, *pair, *pair, out, types.intp)

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return _blend(context, builder, signature, args, 5)

    return signature, generate


def _constant(value: int) -> Any:
    return ir.Constant(ir.VectorType(_I32, 8), [value] * 8)


def _held(builder: Any, value: Any, low: int, high: int) -> Any:
    value = builder.select(builder.icmp_signed("<", value, _constant(low)), _constant(low), value)
    return builder.select(builder.icmp_signed(">", value, _constant(high)), _constant(high), value)


def _diffuse(context: Any, builder: Any, signature: Any, args: Any, backward: bool) -> Any:
    """Diffuse eight pixels of eight inks, a lane for each ink; see ``diffuse_forward``."""
    kinds = signature.args
    eight, wide, kind = ir.VectorType(_I16, 8), ir.VectorType(_I32, 8), args[2].type

    def at(number: int, index: Any) -> Any:
        return _pointer(context, builder, kinds[number], args[number], index)

    def whole(value: int) -> Any:
        return ir.Constant(kind, value)

    lines = []
    for lane in range(8):
        place = builder.add(args[2], builder.mul(args[1], whole(lane)))
        lines.append(_load(builder, at(0, place), eight))
    pixels = _transposed(builder, lines)
    limits = [_load(builder, at(5, whole(8 * n)), wide) for n in range(3)]
    steps = [_load(builder, at(6, whole(8 * n)), wide) for n in range(3)]
    carry, waiting = _load(builder, at(7, whole(0)), wide), _load(builder, at(7, whole(8)), wide)
    bits = _splat(builder, builder.trunc(args[10], _I32), 8)
    packed = _constant(0)
    fourteen, sixteen = _constant(14), _constant(16)
    for step in range(8):
        pixel = 7 - step if backward else step
        tone = builder.zext(pixels[pixel], wide)
        row = builder.mul(builder.add(args[2], whole(pixel + 1)), whole(8))
        before = builder.mul(builder.add(args[2], whole(pixel + 2 if backward else pixel)), whole(8))
        value = builder.add(builder.add(tone, carry), _load(builder, at(3, row), wide))
        value = _held(builder, value, -65536, 131071)
        # Bare cloth stays bare and full tone full; errors end there.
        for end in (0, 65535):
            value = builder.select(builder.icmp_signed("==", tone, _constant(end)), _constant(end), value)
        level, taken = _constant(0), _constant(0)
        for limit, amount in zip(limits, steps, strict=True):
            passed = builder.sext(builder.icmp_signed(">", value, limit), wide)
            level = builder.sub(level, passed)
            taken = builder.add(taken, builder.and_(passed, amount))
        error = builder.sub(value, taken)
        share = ir.Constant(wide, ir.Undefined)
        for lane in range(8):
            number = ir.Constant(_I32, lane)
            code = builder.lshr(builder.extract_element(tone, number), ir.Constant(_I32, 8))
            index = builder.add(builder.zext(code, kind), whole(256 * lane))
            share = builder.insert_element(share, builder.load(at(4, index)), number)
        ahead = builder.ashr(builder.mul(error, builder.lshr(share, sixteen)), fourteen)
        behind = builder.ashr(builder.mul(error, builder.and_(share, _constant(65535))), fourteen)
        _store(builder, builder.add(waiting, behind), at(3, before))
        carry, waiting = ahead, builder.sub(builder.sub(error, ahead), behind)
        if backward:
            shift = builder.mul(bits, _constant(7 - pixel))
            packed = builder.or_(packed, builder.shl(level, shift))
        else:
            packed = builder.or_(builder.shl(packed, bits), level)
    _store(builder, carry, at(7, whole(0)))
    _store(builder, waiting, at(7, whole(8)))
    _store(builder, builder.trunc(packed, eight), at(8, args[9]))
    return context.get_dummy_value()


@intrinsic
def diffuse_forward(
    typing_context: Any, lines: Any, step: Any, x: Any, errors: Any, shares: Any, limits: Any, amounts: Any,
    state: Any, out: Any, at: Any, bits: Any,
) -> Any:  # fmt: skip
    """Diffuse the errors of eight pixels from ``x`` on, of eight inks at a time.

    ``lines[lane * step + x]`` is uint16 ink; ``errors`` (pixels + 2, 8) int32 what the row above left, made
    into what this row leaves; ``shares`` (8, 256) int32, by tone, 16384ths that go ahead (upper half) and
    below behind; ``limits`` and ``amounts`` (3, 8) int32, where each further drop falls and what it brings;
    ``state`` (2, 8) int32 between calls: carried ahead, and waiting below. Levels of the eight pixels go to
    ``out[at : at + 8]``, uint16, ``bits`` each, the first topmost.
    """
    pixels = (types.intp, types.intp)
    signature = types.void(
        lines, *pixels, errors, shares, limits, amounts, state, out, types.intp, types.intp
    )

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return _diffuse(context, builder, signature, args, False)

    return signature, generate


@intrinsic
def diffuse_backward(
    typing_context: Any, lines: Any, step: Any, x: Any, errors: Any, shares: Any, limits: Any, amounts: Any,
    state: Any, out: Any, at: Any, bits: Any,
) -> Any:  # fmt: skip
    """As ``diffuse_forward``, from the eighth pixel to the first."""
    pixels = (types.intp, types.intp)
    signature = types.void(
        lines, *pixels, errors, shares, limits, amounts, state, out, types.intp, types.intp
    )

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return _diffuse(context, builder, signature, args, True)

    return signature, generate
