"""An opened page, and what it complained of and asked for."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, NoReturn

import pytest


def no_browser(why: str) -> NoReturn:
    """Skip, or fail where a browser is a must."""
    if os.environ.get("SIDEON_NEED_BROWSER") == "1":
        pytest.fail(f"SIDEON_NEED_BROWSER=1, but {why}")
    pytest.skip(f"no test in a browser: {why}")


class Watched:
    """A page with everything that it complained of and asked for."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda m: self.complaints.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))


def open_page(watched: Watched, file: Path) -> Any:
    """Open a page and wait until its clip can be shown."""
    page = watched.page
    page.goto(file.as_uri())
    page.wait_for_function(
        "() => { const v = document.getElementById('clip');"
        " return v.readyState >= 2 && !v.seeking"
        " && document.getElementById('stage').dataset.frame; }"
    )
    return page
