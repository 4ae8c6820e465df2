"""The pose model files: where they are, and the check that they are the ones we measured with."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.errors import SettingsError

#: SHA-256 of each shipped file; results were measured with exactly these.
SHIPPED_SHA256 = {
    "movenet_multipose.onnx": "7fb1ebd362f1babd8d0e5b2f47e060f9faaef489ab0d7ad7e6c5d4ef509319f4",
    "movenet_thunder.onnx": "ca9cff288ce2edc8d19581148e1ab43a50406891a6566a486c09549d298e9398",
    "pose_full.task": "3a448e9d52dd344a3ea0a3f3f9f2cfd60dd7dad0f90c0510f26124e9dc74a0cc",
}

#: One thread a model: clips are reviewed side by side, and one thread gives one order of sums.
THREADS = 1
#: What an ONNX model may take for a picture's values.
_KINDS = {"tensor(uint8)": np.uint8, "tensor(int32)": np.int32}


@dataclass(frozen=True)
class ModelFiles:
    """Paths of the three models; ``None`` means the shipped file.

    Attributes
    ----------
    multipose : Path, optional
        Finds people: ONNX, input (1, H, W, 3) uint8 or int32, output (1, 6, 56).
    thunder : Path, optional
        Seventeen points of one person: ONNX, input (1, 256, 256, 3) uint8 or int32.
    landmarker : Path, optional
        Thirty-three points and a silhouette: a pose landmarker task file.
    """

    multipose: Path | None = None
    thunder: Path | None = None
    landmarker: Path | None = None

    def checked(self) -> CheckedModels:
        """Return paths and hashes of all three.

        Raises
        ------
        SettingsError
            When a file is missing, or a shipped file is not the one that was shipped.
        """
        return CheckedModels(
            multipose=_checked(self.multipose, "movenet_multipose.onnx"),
            thunder=_checked(self.thunder, "movenet_thunder.onnx"),
            landmarker=_checked(self.landmarker, "pose_full.task"),
        )

    def expected(self) -> dict[str, str]:
        """Return file name to SHA-256, as `checked` would, without reading the shipped files."""
        given = (self.multipose, self.thunder, self.landmarker)
        found = {}
        for name, path in zip(SHIPPED_SHA256, given, strict=True):
            sha256 = SHIPPED_SHA256[name] if path is None else _checked(path, name).sha256
            found[name if path is None else Path(path).name] = sha256
        return found


@dataclass(frozen=True)
class CheckedModel:
    """A model file that is there and, when shipped, is unchanged."""

    path: Path
    sha256: str


@dataclass(frozen=True)
class CheckedModels:
    """The three models of a run."""

    multipose: CheckedModel
    thunder: CheckedModel
    landmarker: CheckedModel

    def versions(self) -> dict[str, str]:
        """Return file name to SHA-256, for the report."""
        return {
            model.path.name: model.sha256
            for model in (self.multipose, self.thunder, self.landmarker)
        }


def shipped_path(name: str) -> Path:
    """Return the path of a shipped model file by name."""
    return Path(str(resources.files("analysis.pose.models").joinpath(name)))


@dataclass(frozen=True)
class PictureModel:
    """An ONNX model of one input, a picture, and one output."""

    session: Any
    entry: str
    kind: Any

    def run(self, picture: NDArray[Any]) -> NDArray[Any]:
        """Return what the model makes of a picture [shape=(H, W, 3), 0…255]."""
        taken = np.ascontiguousarray(picture, self.kind)[None]
        return np.asarray(self.session.run(None, {self.entry: taken})[0])


def onnx_model(model: CheckedModel) -> PictureModel:
    """Load an ONNX model for the CPU."""
    # onnxruntime 1.29 and later report usage over the network from native code. The project asks
    # for an older one; where a newer one is installed all the same, this keeps it silent. It is
    # read when the library is loaded, so it has to stand before the import.
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = THREADS
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    try:
        session = onnxruntime.InferenceSession(
            str(model.path), options, providers=["CPUExecutionProvider"]
        )
        (taken,) = session.get_inputs()
        return PictureModel(session, taken.name, _KINDS[taken.type])
    except Exception as error:  # onnxruntime's own exceptions share no public base
        raise SettingsError(
            f"The model file {model.path.name} cannot be loaded; install sideon again."
        ) from error


def _checked(given: Path | None, shipped: str) -> CheckedModel:
    path = Path(given) if given is not None else shipped_path(shipped)
    if not path.is_file():
        remedy = "check the path" if given is not None else "install sideon again"
        raise SettingsError(f"The model file {path} is missing; {remedy}.")
    sha256 = _sha256(path, path.stat().st_mtime_ns)
    if given is None and sha256 != SHIPPED_SHA256[shipped]:
        raise SettingsError(
            f"The model file {path.name} is not the one that was shipped "
            f"(SHA-256 {sha256[:12]}…, expected {SHIPPED_SHA256[shipped][:12]}…); "
            "install sideon again."
        )
    return CheckedModel(path, sha256)


@lru_cache(maxsize=16)
def _sha256(path: Path, changed_ns: int) -> str:
    """Hash a file; `changed_ns` makes a changed file be hashed again."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
