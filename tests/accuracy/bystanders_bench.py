"""What is told of clips of people who do anything but row: it should be a refusal, every time.

    python tests/accuracy/bystanders_bench.py FOLDER

FOLDER holds clips from `python -m studio.bystanders` (sample_clips/studio), or any other clips in
which nobody rows. Prints each clip's refusal, or the strokes that were invented.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.errors import ClipError
from analysis.filming import what_can_be_told
from analysis.motion.reconstruct import reconstruct_motion
from analysis.pose.estimate import estimate_pose
from analysis.review import CLIP_ENDINGS
from analysis.stroke.analyse import analyse_strokes


def told_of(clip: Path) -> tuple[int, str]:
    """Return strokes told of a clip, and what it says."""
    try:
        strokes = analyse_strokes(what_can_be_told(reconstruct_motion(estimate_pose(clip))))
    except ClipError as error:
        return 0, str(error)
    return strokes.count, f"{strokes.count} strokes, {strokes.stage}, {strokes.setting}"


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="clips whose name holds this word")
    args = parser.parse_args()
    invented = clips = 0
    for clip in sorted(args.folder.iterdir()):
        if clip.suffix.lower() in CLIP_ENDINGS and args.only in clip.stem:
            count, says = told_of(clip)
            clips, invented = clips + 1, invented + count
            print(f"{clip.stem:24s} {'INVENTED ' if count else ''}{says}", flush=True)
    print(f"{clips} clips, {invented} strokes invented")


if __name__ == "__main__":
    main()
