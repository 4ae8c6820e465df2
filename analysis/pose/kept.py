"""Landmarks kept from one review for the next, so that another standard costs no landmarks.

What is kept is an ``.npz`` file for each clip, choice of rower and part of the clip: plain arrays
and one JSON text, readable with NumPy alone, in the folder of `kept_files`.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis import __version__
from analysis.clip import ClipFacts, content_hash
from analysis.kept_files import cache_folder, write_whole
from analysis.pose.model_files import ModelFiles
from analysis.pose.rower import Who
from analysis.pose.track import LandmarkTrack, PoseTrack

if TYPE_CHECKING:
    from analysis.pose.survey import Progress

#: Form of the files.
FORM = 2

_ENDING = ".npz"
_LIBRARIES = ("av", "mediapipe", "numpy", "onnxruntime", "opencv-python-headless", "scipy")


@lru_cache(maxsize=1)
def library_versions() -> Mapping[str, str]:
    """Return the versions of the libraries that numbers depend on."""
    return {library: importlib.metadata.version(library) for library in _LIBRARIES}


def kept_or_estimated(
    path: str | Path,
    *,
    who: Who = "auto",
    from_s: float | None = None,
    to_s: float | None = None,
    models: ModelFiles | None = None,
    progress: Progress | None = None,
) -> PoseTrack:
    """Do as `estimate_pose` does, or take what an earlier call gave for the same clip.

    The same: content of the file, part of it, rower, model files, this program's own way to find
    landmarks and the libraries it uses. A file that cannot be read back whole is made anew, and
    a folder that cannot be written to is done without.
    """
    expected = (models or ModelFiles()).expected()
    entry = None
    with suppress(OSError):  # no such file: the reader of clips has the words for it
        settings = {"who": str(who), "from_s": from_s, "to_s": to_s, "models": expected}
        entry = _Entry.of(content_hash(Path(path)), settings)
        # Told before they are read: what comes after them can be loaded meanwhile.
        if progress is not None and entry.path.exists():
            progress(1.0)
        found = entry.read()
        if found is not None:
            return replace(found, clip=replace(found.clip, file=Path(path).name))
    from analysis.pose import estimate  # loads every model's library, so only when it is needed

    track = estimate.estimate_pose(
        path, who=who, from_s=from_s, to_s=to_s, models=models, progress=progress
    )
    if entry is not None and track.clip.sha256 == entry.sha256:
        with suppress(OSError):
            entry.write(track)
    return track


@dataclass(frozen=True)
class _Entry:
    """One file: the clip's content and everything else that decides what is in it."""

    sha256: str
    settings: Mapping[str, Any]

    @classmethod
    def of(cls, sha256: str, settings: Mapping[str, Any]) -> _Entry:
        return cls(sha256, {**settings, "form": FORM, "made_by": _made_by(), "clip": sha256})

    @property
    def path(self) -> Path:
        told = json.dumps(self.settings, sort_keys=True).encode()
        return cache_folder() / f"{self.sha256}-{hashlib.sha256(told).hexdigest()[:16]}{_ENDING}"

    def read(self) -> PoseTrack | None:
        """Return what was kept; None when there is nothing, or nothing whole."""
        try:
            with self.path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
                header = json.loads(str(arrays["header"]))
                if header["settings"] != json.loads(json.dumps(self.settings)):
                    return None
                track = _unpacked(header["track"], {name: arrays[name] for name in arrays.files})
            os.utime(self.path)
        except Exception:  # not there, or damaged in whatever way: zip, CRC, JSON, shapes
            return None
        return track

    def write(self, track: PoseTrack) -> None:
        """Keep a track: whole or not at all, readable by its owner alone."""
        told, arrays = _packed(track)
        header = json.dumps({"settings": self.settings, "track": told}, sort_keys=True)
        write_whole(self.path, lambda file: np.savez(file, header=np.array(header), **arrays))


def _packed(track: PoseTrack) -> tuple[dict[str, Any], dict[str, Any]]:
    """Split a track into what JSON holds and arrays."""
    told: dict[str, Any] = {}
    arrays: dict[str, Any] = {}
    for each in fields(track):
        value = getattr(track, each.name)
        if isinstance(value, np.ndarray):
            arrays[each.name] = value
        elif each.name == "clip":
            told["clip"] = asdict(value)
        elif each.name == "landmarks":
            told["landmarks"] = {name: list(part.names) for name, part in value.items()}
            for name, part in value.items():
                arrays[f"{name}.xy_px"], arrays[f"{name}.score"] = part.xy_px, part.score
                arrays[f"{name}.asked"] = part.looked_at
        else:
            told[each.name] = dict(value) if isinstance(value, Mapping) else value
    return told, arrays


def _unpacked(told: dict[str, Any], arrays: dict[str, Any]) -> PoseTrack:
    values: dict[str, Any] = {
        each.name: arrays[each.name] for each in fields(PoseTrack) if each.name in arrays
    }
    landmarks = {
        name: LandmarkTrack(
            name, tuple(names), *(arrays[f"{name}.{part}"] for part in ("xy_px", "score", "asked"))
        )
        for name, names in told["landmarks"].items()
    }
    plain = {name: value for name, value in told.items() if name not in ("clip", "landmarks")}
    return PoseTrack(clip=ClipFacts(**told["clip"]), landmarks=landmarks, **values, **plain)


@lru_cache(maxsize=1)
def _made_by() -> str:
    """Hash of everything that turns frames into landmarks: our sources and the libraries."""
    package = Path(__file__).parent
    sources = [*package.glob("*.py"), *(package.parent / f"{n}.py" for n in _READERS)]
    made = hashlib.sha256(__version__.encode())
    for source in sorted(sources):
        with suppress(OSError):
            made.update(source.read_bytes())
    for library, version in library_versions().items():
        made.update(f"{library} {version}".encode())
    return made.hexdigest()


_READERS = ("clip", "decoding", "frame")
