"""Change chunks of the automerge format, written from its public specification.

Only what a device of ours needs: operations that make and put in maps.
"""

import hashlib
import struct

MAGIC = bytes([0x85, 0x6F, 0x4A, 0x83])
GENESIS_ACTOR = bytes(24)
MAKE_MAP, PUT = 0, 1


def uleb(number):
    out = bytearray()
    while True:
        low, number = number & 0x7F, number >> 7
        out.append(low | (0x80 if number else 0))
        if not number:
            return bytes(out)


def sleb(number):
    out = bytearray()
    while True:
        low, number = number & 0x7F, number >> 7
        done = (number == 0 and not low & 0x40) or (number == -1 and low & 0x40)
        out.append(low | (0 if done else 0x80))
        if done:
            return bytes(out)


def text(value):
    data = value.encode()
    return uleb(len(data)) + data


def runs(values, write):
    """Run-length encoding: equal values as a run, different ones as literals, nulls counted."""
    if all(value is None for value in values):
        return b""
    out, literal, at = bytearray(), [], 0

    def flush():
        if literal:
            out.extend(sleb(-len(literal)) + b"".join(map(write, literal)))
            literal.clear()

    while at < len(values):
        end = at
        while end < len(values) and values[end] == values[at]:
            end += 1
        count = end - at
        if values[at] is None:
            flush()
            out.extend(sleb(0) + uleb(count))
        elif count == 1:
            literal.append(values[at])
        else:
            flush()
            out.extend(sleb(count) + write(values[at]))
        at = end
    flush()
    return bytes(out)


def booleans(values):
    """Counts of equal values in turn, the first of false."""
    out, state, count = bytearray(), False, 0
    for value in values:
        if value != state:
            out.extend(uleb(count))
            state, count = value, 0
        count += 1
    return bytes(out + uleb(count))


def scalar(value):
    """Type and raw bytes of a value."""
    if value is None:
        return 0, b""
    if value is False:
        return 1, b""
    if value is True:
        return 2, b""
    if isinstance(value, int):
        return 4, sleb(value)
    if isinstance(value, float):
        return 5, struct.pack("<d", value)
    if isinstance(value, str):
        return 6, value.encode()
    return 7, bytes(value)


class Op:
    """Makes a map (`value` is Op.MAP) or puts a value, under a key of an object."""

    MAP = object()

    def __init__(self, obj, key, value):
        self.obj, self.key, self.value = obj, key, value


def change(actor, seq, start_op, deps, time, message, ops):
    """A chunk and its hash. An object is None for the root, or (number, actor)."""
    others = sorted({op.obj[1] for op in ops if op.obj and op.obj[1] != actor})
    actors = [actor, *others]
    values = [(0, b"") if op.value is Op.MAP else scalar(op.value) for op in ops]
    columns = [
        (0x01, runs([None if op.obj is None else actors.index(op.obj[1]) for op in ops], uleb)),
        (0x02, runs([None if op.obj is None else op.obj[0] for op in ops], uleb)),
        (0x15, runs([op.key for op in ops], text)),
        (0x34, booleans([False] * len(ops))),
        (0x42, runs([MAKE_MAP if op.value is Op.MAP else PUT for op in ops], uleb)),
        (0x56, runs([len(raw) << 4 | kind for kind, raw in values], uleb)),
        (0x57, b"".join(raw for _, raw in values)),
        (0x70, runs([0] * len(ops), uleb)),
    ]
    columns = [(spec, data) for spec, data in columns if data]
    body = b"".join(
        [
            uleb(len(deps)), *sorted(deps),
            uleb(len(actor)), actor, uleb(seq), uleb(start_op), sleb(time), text(message),
            uleb(len(others)), *(uleb(len(other)) + other for other in others),
            uleb(len(columns)), *(uleb(spec) + uleb(len(data)) for spec, data in columns),
            *(data for _, data in columns),
        ]
    )
    behind = b"\x01" + uleb(len(body)) + body
    digest = hashlib.sha256(behind).digest()
    return MAGIC + digest[:4] + behind, digest
