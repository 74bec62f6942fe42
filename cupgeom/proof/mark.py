"""The proof mark: eight letters and digits that change when anything changes that the customer said yes to.

What is approved is written as bytes in one way only, each part with its kind and its length, and hashed with SHA-256.
The first 40 bits of the hash are the mark, in the 32 digits 0 to 9 and A to Z without I, L, O and U (Crockford's base
32, from memory), which nobody mistakes for others when a mark is read out.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Iterable, Mapping
from decimal import Decimal

from cupgeom.cup import Cup
from cupgeom.errors import CupgeomError

DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 8
_BITS = 5  # a digit


def proof_mark(*, art: Iterable[object], text: Iterable[str], cup: Cup, medium: Iterable[object]) -> str:
    """A short mark for what lies on a cup.

    Parameters
    ----------
    art
        What is drawn and where: drawings, placements, laid layers, bytes of files, in the order they are laid.
    text
        What is written, line by line.
    cup
        What it lies on.
    medium
        What each piece is made of.

    Returns
    -------
    str
        Two groups of four, such as ``7K2M-QX04``.

    Raises
    ------
    CupgeomError
        When a part holds something that has no canonical bytes.
    """
    data = canonical((tuple(art), tuple(text), cup, tuple(medium)))
    return spelled(hashlib.sha256(data).digest())


def spelled(digest: bytes) -> str:
    """The first 40 bits of a hash as a mark."""
    value = int.from_bytes(digest) >> (8 * len(digest) - _BITS * LENGTH)
    digits = [DIGITS[value >> _BITS * place & 31] for place in reversed(range(LENGTH))]
    return "".join(digits[:4]) + "-" + "".join(digits[4:])


def same_mark(first: str, second: str) -> bool:
    """Whether two marks are the same to a reader: case, gaps and hyphens aside, with O for 0, I and L for 1."""
    return _read(first) == _read(second)


def _read(mark: str) -> str:
    plain = "".join(mark.upper().replace("-", "").split())
    return plain.translate(str.maketrans("OIL", "011"))


def canonical(value: object) -> bytes:
    """The bytes that stand for a value: the same for equal values, others for different ones.

    Whole numbers and floats that are equal are the same, and so are a list and a tuple; a mapping has no order; of a
    value of ours the compared fields count.

    Raises
    ------
    CupgeomError
        For any other kind of value.
    """
    kind, data = _plain(value) or _composed(value)
    return b"%s %d:%s" % (kind, len(data), data)


def _plain(value: object) -> tuple[bytes, bytes] | None:
    """Kind and bytes of a value without parts, None for another one."""
    match value:
        case None:
            return b"none", b""
        case bool():
            found = b"truth", b"1" if value else b"0"
        case int() | float() | Decimal():
            found = b"number", _number(value)
        case complex():
            found = b"point", _number(value.real) + b" " + _number(value.imag)
        case str():
            found = b"text", value.encode("utf-8", "surrogatepass")
        case bytes() | bytearray() | memoryview():
            found = b"bytes", bytes(value)
        case _:
            return None
    return found


def _composed(value: object) -> tuple[bytes, bytes]:
    """Kind and bytes of a value made of others."""
    if isinstance(value, Mapping):
        return b"mapping", b"".join(sorted(canonical(key) + canonical(item) for key, item in value.items()))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: getattr(value, field.name) for field in dataclasses.fields(value) if field.compare}
        return b"value", canonical(type(value).__name__) + canonical(fields)
    if isinstance(value, (list, tuple)):
        return b"row", b"".join(canonical(item) for item in value)
    raise CupgeomError("proof mark", f"cannot be made from a {type(value).__name__}")


def _number(value: float | Decimal) -> bytes:
    """The shortest digits that give the same double; no sign on 0."""
    return repr(float(value) + 0.0).encode()
