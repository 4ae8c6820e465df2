"""A fingerprint of values: the same for what is equal to the last bit, another for all else."""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any

import numpy as np

# Unions of types would be made anew whenever they are asked for.
_FLOATS, _TEXTS, _ROWS = (float, np.floating), (str, bytes), (tuple, list)
_WHOLE = (bool, int, np.bool_, np.integer)


def digest(*values: Any, known: Mapping[int, str] | None = None) -> str:
    """Return the SHA-256 of values, 64 hexadecimal digits.

    Every field of a dataclass counts and every key of a mapping, in whatever order they stand.
    ``TypeError`` for what it does not know: leaving something out would call different things the
    same. `known` holds fingerprints, by ``id``, of large things that stand in many values.
    """
    made = hashlib.sha256()
    for value in values:
        _add(made, value, known or {})
    return made.hexdigest()


def _add(made: Any, value: Any, known: Mapping[int, str]) -> None:
    # What comes most often first: of each picture's moment seventy values are asked for.
    if id(value) in known:
        made.update(known[id(value)].encode())
    elif isinstance(value, _FLOATS):
        made.update(b"float" + (b"nan" if value != value else struct.pack("<d", value)))
    elif isinstance(value, _TEXTS):
        data = value.encode() if isinstance(value, str) else value
        _begin(made, type(value).__name__, len(data))
        made.update(data)
    elif isinstance(value, _ROWS):
        _begin(made, "row", len(value))
        for item in value:
            _add(made, item, known)
    elif value is None or isinstance(value, _WHOLE):
        made.update(f"{type(value).__name__} {value};".encode())
    elif isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise TypeError("array of objects: its content cannot be told apart")
        _begin(made, f"array {value.dtype.str} {value.shape}", value.nbytes)
        made.update(np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value) and not isinstance(value, type):
        opening, names = _fields(type(value))
        made.update(opening)
        for name, before in names:
            made.update(before)
            _add(made, getattr(value, name), known)
    elif isinstance(value, Mapping):
        _begin(made, "mapping", len(value))
        for item in sorted(value.items(), key=lambda item: str(item[0])):
            _add(made, item, known)
    else:
        raise TypeError(f"{type(value).__name__}: no fingerprint is known for it")


@lru_cache(maxsize=64)
def _fields(kind: type) -> tuple[bytes, tuple[tuple[str, bytes], ...]]:
    """Return what stands before the fields of a dataclass; each field, and what stands before it.

    A field counts as a row of its name and its value.
    """
    names = [each.name for each in fields(kind)]
    opening = f"{kind.__qualname__} {len(names)}:".encode()
    row = [f"row 2:str {len(name.encode())}:{name}".encode() for name in names]
    return opening, tuple(zip(names, row, strict=True))


def _begin(made: Any, kind: str, size: int) -> None:
    made.update(f"{kind} {size}:".encode())
