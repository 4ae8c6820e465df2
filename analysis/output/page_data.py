"""What the page's own scripts need to know, as plain JSON."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analysis.checks import FloatArray
from analysis.output import curves
from analysis.output.frame_names import frame_names
from analysis.output.language import Text
from analysis.output.timing import Timing
from analysis.result import Review

#: One letter a phase, for a row of letters that tells the phase of every frame.
_LETTERS = {"": "-", "catch": "c", "drive": "d", "release": "r", "recovery": "v"}

#: The angles that are drawn as curves.
_ANGLES = ("trunk_deg", "back_rounding_deg", "shin_deg", "knee_deg", "elbow_deg")


def page_data(review: Review, timing: Timing | None, text: Text) -> dict[str, Any]:
    """Return the data of the page; empty when no clip was made.

    Times: ``frames_s`` when each frame is shown in the page's clip, ``clip_s`` the frame's own
    time, which everything else counts in. A stroke's ``frames`` are its first and the one behind
    its last, as they are called on the clip.
    """
    if timing is None:
        return {}
    strokes, clip = review.strokes, review.pose.clip
    starts = np.fmin(strokes.catch_s, strokes.full_compression_s)
    names = frame_names(review)
    frames = [names.frames_of(i + 1) for i in range(strokes.count)]
    return {
        "frames_s": _rounded(timing.shown_s, 4),
        "clip_s": _rounded(timing.clip_s, 4),
        "duration_s": round(timing.duration_s, 4),
        "strokes": [
            {
                "catch_s": round(float(strokes.catch_s[i]), 4),
                "release_s": round(float(strokes.release_s[i]), 4),
                "next_s": round(float(strokes.next_catch_s[i]), 4),
                "from_s": round(float(starts[i]), 4),
                "frames": frames[i],
            }
            for i in range(strokes.count)
        ],
        "phases": "".join(_LETTERS[str(phase)] for phase in names.phase),
        "phase_names": {_LETTERS[name]: text(f"phase.{name}") for name in _LETTERS if name},
        "turn": round(curves.release_along(review), 5) if strokes.count else 0.5,
        "series": _series(review),
        "point": text("number.point"),
        "text": text.group("script")
        | text.group("marks")
        | {
            "play": text("watch.play"),
            "pause": text("watch.pause"),
        },
        "clip": {"file": clip.file, "sha256": clip.sha256},
        "who": str(review.who),
        "marks": review.marks.data() if review.marks else None,
    }


def _series(review: Review) -> dict[str, list[float | None]]:
    """Return every drawn quantity over the frames, as the curves draw it."""
    motion = review.motion
    found = {name: _rounded(motion.angle(name), 1) for name in _ANGLES}
    found["seat"] = _rounded(curves.slide_pct(review), 1)
    handle = motion.handle_px / max(motion.segments_px["forearm"], 1e-9)
    for k, axis in enumerate("xy"):
        found[f"handle_{axis}"] = _rounded(handle[:, k], 3)
    return found


def _rounded(values: FloatArray, digits: int) -> list[float | None]:
    return [round(float(v), digits) if math.isfinite(v) else None for v in values]
