"""How many people row in a clip, before anybody's landmarks are sought."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analysis.clip import Clip
from analysis.pose.linking import link
from analysis.pose.model_files import ModelFiles
from analysis.pose.rower import rowers_from_bow
from analysis.pose.survey import look_around


def count_rowers(path: Path, *, from_s: float | None = None, to_s: float | None = None) -> int:
    """Count the rowers of a clip in a first, quick pass.

    Parameters
    ----------
    path : Path
    from_s, to_s : float, optional
        Part of the clip, s from its first shown frame.

    Returns
    -------
    int
        The seats that `analysis.pose.rower.choose` counts from the bow; 0 when nobody rows.

    Raises
    ------
    UnreadableClipError
        The file is no clip.
    """
    with Clip(path, from_s=from_s, to_s=to_s) as clip:
        survey = look_around(clip, ModelFiles().checked(), lambda share: None)
    at = np.searchsorted(survey.t_s, survey.looked_s)
    return len(rowers_from_bow(link(survey.looked_s, survey.people, survey.shift_px[at])))
