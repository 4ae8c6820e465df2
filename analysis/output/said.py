"""Sentences that come with a review, in the language of the page (``sentences/*.toml``).

Findings and drills are looked up by their keys; sentences with numbers in them are recognised by
their English form, and their numbers put into the other one. A sentence without a translation
stays English and is marked so, for reading it aloud.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

from markupsafe import Markup

from analysis.coaching.drills import drill_rows
from analysis.coaching.findings import Drill, Hint
from analysis.coaching.words import CHECK_WORDS, words
from analysis.output.language import Text
from analysis.result import QualityPoint

#: Parts of a drill that are read by the athlete.
DRILL_PARTS = ("name", "do", "amount", "feel", "film")


@dataclass(frozen=True)
class Sentences:
    """One language's sentences: by their English, and by English with blanks in it."""

    exact: Mapping[str, str]
    filled: tuple[tuple[re.Pattern[str], str], ...]


@cache
def sentences_of(code: str) -> Sentences:
    """Return the sentences of a language; none for one that has no file."""
    table = catalogue(code)
    exact: dict[str, str] = {}
    for measure, theirs in table["finding"].items():
        ours = words()[measure]
        exact |= _pairs(ours, theirs) | _pairs(ours.get("no_slide", {}), theirs.get("no_slide", {}))
    for row in drill_rows() if table["drill"] else ():
        exact |= {row[part]: table["drill"][row["key"]][part] for part in DRILL_PARTS}
    filled = []
    for pair in table["sentence"]:
        if "{" in pair["en"]:
            filled.append((_pattern(pair["en"]), pair[code]))
        else:
            exact[pair["en"]] = pair[code]
    return Sentences(exact, tuple(filled))


def _pairs(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> dict[str, str]:
    """Return what an athlete reads of a measure's words, English to the other language."""
    found = {ours["well"]: theirs["well"]} if "well" in ours else {}
    for side in {"over", "under"} & set(ours):
        found |= {ours[side][p]: theirs[side][p] for p in ("title", "athlete") if p in ours[side]}
    return found


def catalogue(code: str) -> dict[str, Any]:
    """Return the table of a language as it stands in its file; empty without a file."""
    file = resources.files("analysis.output") / "sentences" / f"{code}.toml"
    if not file.is_file():
        return {"finding": {}, "drill": {}, "sentence": []}
    return tomllib.loads(file.read_text(encoding="utf-8"))


def _pattern(english: str) -> re.Pattern[str]:
    parts = re.split(r"\{(\w+)\}", english)
    made = [re.escape(p) if i % 2 == 0 else f"(?P<{p}>.+?)" for i, p in enumerate(parts)]
    return re.compile("".join(made))


def translated(sentence: str, text: Text) -> str | None:
    """Return a sentence in the page's language; ``None`` when there is no translation."""
    if text.code == "en" or not sentence:
        return sentence
    known = sentences_of(text.code)
    if sentence in known.exact:
        return known.exact[sentence]
    for pattern, other in known.filled:
        found = pattern.fullmatch(sentence)
        if found:
            blanks = {name: _blank(value, text) for name, value in found.groupdict().items()}
            return other.format(**blanks)
    return None


def _blank(value: str, text: Text) -> str:
    """Put what fills a blank into the language: known words, lists of them, a number's point."""
    whole = translated(value, text) or _check(value, text)
    if whole:
        return whole
    for sign in ("; ", ", "):
        if sign in value:
            return sign.join(_blank(part, text) for part in value.split(sign))
    return re.sub(r"(?<=\d)\.(?=\d)", text("number.point"), value)


def _check(words_: str, text: Text) -> str:
    return next((text.find(f"check.{key}") for key, said in CHECK_WORDS.items() if said == words_),
                "")  # fmt: skip


def said(sentence: str, text: Text) -> str:
    """Return a sentence in the page's language, or as it is and marked as English."""
    found = translated(sentence, text)
    return Markup('<span lang="en">{}</span>').format(sentence) if found is None else found


def said_drill(drill: Drill | None, text: Text) -> Drill | None:
    """Return a drill in the page's language."""
    if drill is None:
        return None
    return replace(drill, **{part: said(getattr(drill, part), text) for part in DRILL_PARTS})


def said_hint(hint: Hint, text: Text) -> Hint:
    """Return a set-up hint in the page's language."""
    return replace(
        hint, text=said(hint.text, text), sure=said(hint.sure, text), step=said(hint.step, text)
    )


def said_quality(point: QualityPoint, text: Text) -> QualityPoint:
    """Return how a clip was filmed in the page's language."""
    return replace(
        point,
        label=said(point.label, text),
        costs=said(point.costs, text),
        remedy=said(point.remedy, text),
    )
