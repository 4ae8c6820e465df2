"""What can go wrong with a clip, said in one plain sentence.

``ClipError``
├── ``UnreadableClipError``   no video, damaged, nothing decoded
├── ``NoRowerError``          nobody found, or nobody who rows
└── ``TooFewStrokesError``    fewer than two whole strokes
``SettingsError``             a standard, sheet or option that cannot be used
"""

from __future__ import annotations


class SideonError(Exception):
    """Base of every error whose text is meant for the coach.

    The text is one or two plain sentences: what was wrong and what to do.
    """


class ClipError(SideonError):
    """One clip cannot be reviewed; the other clips go on."""


class UnreadableClipError(ClipError):
    """The file holds no video that can be decoded."""


class NoRowerError(ClipError):
    """Nobody in view, or nobody whose hands and hips cycle."""


class TooFewStrokesError(ClipError):
    """Fewer than two whole strokes: ``found`` were.

    Parameters
    ----------
    sentence : str
    found : int, optional
        0 when left out.
    """

    def __init__(self, sentence: str, found: int = 0) -> None:
        super().__init__(sentence)
        self.found = found


class SettingsError(SideonError):
    """A standard, session sheet or option cannot be used as it stands."""
