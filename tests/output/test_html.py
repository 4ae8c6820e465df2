"""Compiled templates: kept where Python keeps its own bytecode, and done without."""

from __future__ import annotations

import sys
from pathlib import Path

import jinja2
import pytest

from analysis.output import html


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "compiled"
    monkeypatch.setattr(html, "COMPILED", folder)
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return folder


def base_page() -> str:
    """Make a page in a new environment, as a new process would."""
    made = html.environment.__wrapped__()
    return made.get_template("base.html.j2").render()


def forbid(*words: object, **more: object) -> None:
    raise AssertionError("compiled again")


def test_templates_are_compiled_once(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = base_page()
    assert len(list(kept.iterdir())) == 1
    monkeypatch.setattr(jinja2.Environment, "_generate", forbid)
    assert base_page() == first


def test_another_template_is_compiled_anew(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    base_page()
    real = jinja2.PackageLoader.get_source

    def changed(self: jinja2.PackageLoader, *asked: object) -> object:
        source, *rest = real(self, *asked)  # type: ignore[arg-type]
        return (source.replace("<body", "<body data-new"), *rest)

    monkeypatch.setattr(jinja2.PackageLoader, "get_source", changed)
    assert "<body data-new" in base_page()


@pytest.mark.parametrize("spoiled", [b"", b"no bytecode", None])
def test_a_spoiled_one_is_not_used(kept: Path, spoiled: bytes | None) -> None:
    first = base_page()
    (file,) = kept.iterdir()
    file.write_bytes(file.read_bytes()[:-40] if spoiled is None else spoiled)
    assert base_page() == first


def test_nothing_is_kept_where_nothing_can_or_may_be(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.write_text("no folder")
    assert "<body" in base_page()
    kept.unlink()
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert "<body" in base_page()
    assert not kept.exists()
