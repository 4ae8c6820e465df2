"""Fitted motion and strokes kept beside the landmarks: what another standard does not change.

A file for each: arrays and one JSON text, readable with NumPy alone, found again by a fingerprint
of everything that it was made from and of this program. Safe to delete, private and dropped as
kept landmarks are (`kept_files`).
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from analysis.digest import digest
from analysis.kept_files import cache_folder, is_fingerprint, write_whole
from analysis.motion.motion import Motion, TurnError
from analysis.stroke.strokes import MeasureColumn, Strokes

T = TypeVar("T")

#: Form of the files.
FORM = 1

#: Everything that turns landmarks into numbers and pictures.
_LIBRARIES = (
    "av",
    "matplotlib",
    "mediapipe",
    "numpy",
    "onnxruntime",
    "opencv-python-headless",
    "pillow",
    "scipy",
)
_SOURCES = (".py", ".json", ".npz", ".toml")

#: What may stand in a file.
_KNOWN: dict[str, type] = {
    kind.__name__: kind for kind in (Motion, TurnError, Strokes, MeasureColumn)
}

#: Arrays of fewer entries stand in the text: a file of hundreds of parts is slow to read.
_SMALL = 512


def kept_or_made(sha256: str, what: str, made_from: object, make: Callable[[], T]) -> T:
    """Return what `make` gives, or what it gave when it was called with the same before.

    Parameters
    ----------
    sha256 : str
        Of the clip's content.
    what : str
        One plain word, which becomes part of the file's name.
    made_from : object
        All that the result depends on, as `digest` takes it.
    make : callable
        Gives a `Motion` or `Strokes`; what it raises is not kept.
    """
    if not is_fingerprint(sha256):
        return make()
    key = digest(FORM, what, made_from, program_state())
    path = cache_folder() / f"{sha256}-{what}-{key[:16]}.npz"
    found: T | None = _read(path, key)
    if found is not None:
        return found
    result = make()
    with suppress(OSError):
        write_whole(path, lambda file: _save(file, key, result))
    return result


@lru_cache(maxsize=1)
def program_state() -> str:
    """Return a hash of all sources of this package and of the libraries' versions."""
    package = Path(__file__).parent
    made = hashlib.sha256()
    for folder, inside, names in os.walk(package):
        inside.sort()
        for name in sorted(names):
            if name.endswith(_SOURCES):
                source = Path(folder, name)
                content = source.read_bytes()
                made.update(f"{source.relative_to(package).as_posix()} {len(content)}:".encode())
                made.update(content)
    for library in _LIBRARIES:
        made.update(f"{library} {importlib.metadata.version(library)};".encode())
    return made.hexdigest()


def _save(file: Any, key: str, result: object) -> None:
    arrays: dict[str, Any] = {}
    told = json.dumps({"key": key, "result": _packed(result, arrays)})
    np.savez(file, header=np.array(told), **arrays)


def _read(path: Path, key: str) -> Any:
    """Return what was kept; None when there is nothing, or nothing whole."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            told = json.loads(str(arrays["header"]))
            result = _unpacked(told["result"], arrays) if told["key"] == key else None
        os.utime(path)
    except Exception:  # not there, or damaged in whatever way: zip, CRC, JSON, shapes
        return None
    return result


def _packed(value: Any, arrays: dict[str, Any]) -> Any:
    """Return a value as JSON holds it; large arrays go to `arrays`."""
    if is_dataclass(value) and not isinstance(value, type):
        parts = {each.name: _packed(getattr(value, each.name), arrays) for each in fields(value)}
        if type(value).__name__ not in _KNOWN:
            raise TypeError(f"{type(value).__name__}: cannot be kept")
        return {"of": type(value).__name__, "parts": parts}
    if isinstance(value, np.ndarray):
        if value.size < _SMALL:
            return {"of": "array", "kind": value.dtype.str, "values": value.tolist()}
        name = f"a{len(arrays)}"
        arrays[name] = value
        return {"of": "array", "name": name}
    if isinstance(value, Mapping):
        return {"of": "mapping", "parts": {k: _packed(v, arrays) for k, v in value.items()}}
    if isinstance(value, tuple):
        return {"of": "row", "parts": [_packed(item, arrays) for item in value]}
    if isinstance(value, np.generic):
        return value.item()
    return value


def _unpacked(told: Any, arrays: Mapping[str, Any]) -> Any:
    if not isinstance(told, dict):
        return told
    kind = told["of"]
    if kind == "array":
        if "name" in told:
            return arrays[told["name"]]
        return np.array(told["values"], dtype=told["kind"])
    if kind == "row":
        return tuple(_unpacked(item, arrays) for item in told["parts"])
    parts = {name: _unpacked(part, arrays) for name, part in told["parts"].items()}
    return parts if kind == "mapping" else _KNOWN[kind](**parts)
