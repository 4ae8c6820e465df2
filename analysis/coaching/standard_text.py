"""Write a standard as a commented TOML file that a coach can edit."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from analysis.coaching.standard import Standard
from analysis.coaching.standard_file import EDITABLE, SCHEMA, Entry
from analysis.coaching.words import CHECK_WORDS

_HEAD = """\
# A copy of the standard "{name}" ({title}, version {version}), to edit.
# Check it with:  sideon standard --check THIS_FILE
# Use it with:    sideon review CLIPS --standard THIS_FILE
#
# A measure is steady between low and high; "open" leaves a side open. step is how much past a
# limit is a clear fault; beyond an uncertainty of max_u nothing is said. from is the first stage
# at which the limit means anything ("never" switches it off); at_most = "watch" keeps a measure
# from ever being the thing to fix. What you delete falls back to the shipped standard that the
# file is based on. All limits are common coaching practice, not published thresholds.
"""

_TAIL = """
# --- for one stage, one setting or one athlete ------------------------------------------------
# Later wins: limits above, then setting, then stage, then athlete. Take the # away to use them.
#
# [setting.boat.handle_loop_share]
# high = 0.40
#
# [stage.half_slide.lunge_deg]
# high = 7.0
#
# [athlete."A name as on the sheet".layback_deg]
# high = 25.0
"""


def standard_toml(standard: Standard, name: str) -> str:
    """Return `standard` as the text of a file called `name`, every limit spelled out."""
    tables = standard.tables
    parts = [
        _HEAD.format(name=standard.name, title=standard.title, version=standard.version),
        "\n".join(_top(standard, name)) + "\n",
    ]
    parts += _limits(tables["limits"])
    for kind in ("setting", "stage", "athlete"):
        for who, inner in tables[kind].items():
            path = f"{kind}.{who}" if who.isidentifier() else f"{kind}.{json.dumps(who)}"
            if kind == "athlete" and who in tables["athlete_neutral"]:
                neutral = _value(tables["athlete_neutral"][who])
                parts.append(f"\n[{path}]\nneutral_raw_deg = {neutral}\n")
            parts += [_table(f"{path}.{measure}", table) for measure, table in inner.items()]
    parts.append(_TAIL)
    return "".join(parts)


def _top(standard: Standard, name: str) -> Iterator[str]:
    yield f"schema = {SCHEMA}"
    yield f"name = {_value(name)}"
    yield f"title = {_value(standard.title + ', our own')}"
    yield 'version = "1"'
    yield f"based_on = {_value(standard.based_on)}"
    yield ""
    yield "# Raw back angle of a sound upright back, and how far sound backs differ from it."
    yield f"neutral_raw_deg = {_value(standard.neutral_raw_deg)}"
    yield f"neutral_raw_se_deg = {_value(standard.neutral_raw_se_deg)}"
    yield ""
    yield "# Causes before symptoms: the first thing to fix comes from the first of these groups."
    yield "order = ["
    for group in standard.order:
        yield f"  {_value(list(group))},"
    yield "]"


def _limits(limits: Mapping[str, Mapping[str, Entry]]) -> Iterator[str]:
    check = ""
    for measure, table in limits.items():
        named = table.get("check") or table["hint"]
        if named.value != check:
            check = named.value
            kind = "set-up hint, never a finding" if "hint" in table else "check"
            yield f"\n# --- {check} ({kind}): {CHECK_WORDS.get(check, check)}\n"
        yield f"\n# {table['about'].value}".rstrip()
        yield _table(f"limits.{measure}", table)
        yield from (f'# {side} = "open"\n' for side in ("low", "high") if side not in table)


def _table(path: str, table: Mapping[str, Entry]) -> str:
    lines = [f"\n[{path}]"]
    lines += [f"{key} = {_value(table[key].value)}" for key in EDITABLE if key in table]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    """Write one value as TOML; its basic strings are written like JSON's."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(inner) for inner in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return repr(value)
