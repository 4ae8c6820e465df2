"""A coach's corrections in words: which were applied, and which athletes can be chosen."""

from __future__ import annotations

from analysis.coach_marks import CoachMarks
from analysis.output.language import Text

#: How ``--who`` names an athlete without a number.
_NAMED = ("auto", "nearest", "left", "right")


def correction_words(marks: CoachMarks | None, text: Text) -> tuple[str, ...]:
    """Return one line a correction that was applied; empty without any."""
    if marks is None:
        return ()
    said = []
    for moved in marks.moved:
        event, was, at = (
            text(f"phase.{moved.event}"),
            seconds(moved.was_s, text),
            seconds(moved.at_s, text),
        )
        said.append(text("marks.moved", event=event, was=was, at=at))
    said += [text("marks.dropped", at=seconds(time, text)) for time in marks.left_out]
    if marks.who != "auto":
        said.append(text("marks.other_who", who=who_label(marks.who, text)))
    if marks.note:
        said.append(text("marks.by_note", note=marks.note))
    return tuple(said)


def who_choices(people: int, text: Text) -> tuple[tuple[str, str], ...]:
    """Return the athletes that can be chosen, as ``--who`` takes them, with their labels."""
    values: tuple[str | int, ...] = (*_NAMED, *range(1, max(people, 1) + 1))
    return tuple((str(value), who_label(value, text)) for value in values)


def who_label(who: str | int, text: Text) -> str:
    """Return whom ``--who`` means, in words."""
    return text(f"marks.who_{who}") if who in _NAMED else text("marks.who_seat", seat=who)


def seconds(value: float, text: Text) -> str:
    """Return a time with its unit."""
    return text.number(value, 2) + " s"
