"""Model files: the shipped ones are checked, others may be given."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from analysis.errors import SettingsError
from analysis.pose import model_files
from analysis.pose.model_files import SHIPPED_SHA256, ModelFiles, onnx_model, shipped_path


def test_shipped_files_are_the_expected_ones() -> None:
    assert ModelFiles().checked().versions() == SHIPPED_SHA256


def test_changed_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in SHIPPED_SHA256:
        shutil.copy(shipped_path(name), tmp_path / name)
    monkeypatch.setattr(model_files, "shipped_path", lambda name: tmp_path / name)
    assert ModelFiles().checked().versions() == SHIPPED_SHA256
    changed = tmp_path / "movenet_thunder.onnx"
    data = bytearray(changed.read_bytes())
    data[len(data) // 2] ^= 1
    changed.write_bytes(data)
    with pytest.raises(SettingsError, match=r"movenet_thunder\.onnx is not the one .* shipped"):
        ModelFiles().checked()
    changed.unlink()
    with pytest.raises(SettingsError, match="missing; install sideon again"):
        ModelFiles().checked()


def test_another_model_may_be_given(tmp_path: Path) -> None:
    other = tmp_path / "other.onnx"
    other.write_bytes(b"not shipped")
    checked = ModelFiles(thunder=other).checked()
    assert checked.thunder.path == other
    assert checked.versions()["other.onnx"] == hashlib.sha256(b"not shipped").hexdigest()
    with pytest.raises(SettingsError, match=r"other\.onnx cannot be loaded"):
        onnx_model(checked.thunder)
    with pytest.raises(SettingsError, match="check the path"):
        ModelFiles(multipose=tmp_path / "none.onnx").checked()
