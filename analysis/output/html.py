"""The template environment of all pages, and what stands inside each of them."""

from __future__ import annotations

import hashlib
import re
import sys
from contextlib import suppress
from functools import cache
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from urllib.parse import quote

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup

from analysis.output.language import ENGLISH, Text

#: Templates that a report page is made of.
_REPORT = ("base", "parts", "curves", "marks", "watch", "coach", "report")

#: Compiled templates lie where Python puts its own bytecode, and are trusted as much as that.
COMPILED = Path(__file__).parent / "templates" / "__pycache__"


class _Compiled(jinja2.FileSystemBytecodeCache):
    """Keeps compiled templates; does without where nothing can or may be written."""

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take a compiled template, if a whole one is kept."""
        try:
            super().load_bytecode(bucket)
        except Exception:  # cannot be read, or damaged in whatever way
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template."""
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                Path(self.directory).mkdir(exist_ok=True)
                super().dump_bytecode(bucket)


def _made_by() -> str:
    """Tell what compiled templates depend on besides themselves: this file and Jinja's version."""
    own = Path(__file__).read_bytes() + version("jinja2").encode()
    return hashlib.sha256(own).hexdigest()[:8]


@cache
def environment() -> jinja2.Environment:
    """Return the template environment: everything is escaped unless it is our own SVG."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("analysis.output"),
        bytecode_cache=_Compiled(str(COMPILED), f"%s-{_made_by()}.j2c"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    made.filters["svg"] = Markup
    made.filters["link"] = lambda path: quote(path, safe="/~")
    made.filters["in_list"] = _in_list
    made.filters["tied"] = _tied
    made.globals["static"] = static
    made.globals["t"] = ENGLISH
    made.globals["en"] = Markup("")
    return made


def load() -> None:
    """Load the templates of a report page, ahead of the first page; compile those not kept."""
    for name in _REPORT:
        environment().get_template(f"{name}.html.j2")


def _tied(words_: str) -> str:
    """Keep numbers on one line with their unit and their sign."""
    return re.sub(r"(?<=\d) (?=%|s\b)|(?<=±) ", "\u00a0", words_)


def _in_list(title: str, text: Text) -> str:
    """Return a finding's title for the middle of a sentence: English ones begin small."""
    return title[:1].lower() + title[1:] if text.code == "en" else title


@cache
def static(name: str) -> Markup:
    """Return a stylesheet or script of ours to stand inside a page."""
    file = resources.files("analysis.output") / "static" / name
    return Markup(file.read_text(encoding="utf-8"))


def english(text: Text) -> Markup:
    """Return what marks sentences that are English on any page, for reading them aloud."""
    return Markup("" if text.code == "en" else ' lang="en"')
