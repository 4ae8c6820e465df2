"""Where the time of one review goes: processor time of each part, on one core.

    python tests/speed/stages.py [CLIP]

Processor time, not wall time: it hardly depends on what else the machine does.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["SIDEON_CORES"] = os.environ["OMP_NUM_THREADS"] = "1"

STARTED = time.process_time()

from analysis import frame  # noqa: E402
from analysis.coaching.standard import load_standard  # noqa: E402
from analysis.motion import reconstruct  # noqa: E402
from analysis.output import annotated, video, write  # noqa: E402
from analysis.pose import estimate, follow, hand, landmarkers, look, people, survey  # noqa: E402
from analysis.review import ReviewOptions, review_clip  # noqa: E402
from analysis.stroke import analyse  # noqa: E402

SPENT: dict[str, float] = defaultdict(float)
_STACK: list[float] = []


def watched(name: str, call: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that counts its own time, without that of watched ones inside it."""

    def watching(*words: Any, **more: Any) -> Any:
        start = time.process_time()
        _STACK.append(0.0)
        try:
            return call(*words, **more)
        finally:
            whole = time.process_time() - start
            SPENT[name] += whole - _STACK.pop()
            if _STACK:
                _STACK[-1] += whole

    return watching


def watch(owner: Any, attribute: str, name: str) -> None:
    """Have a function or method watched wherever it is looked up in `owner`."""
    setattr(owner, attribute, watched(name, getattr(owner, attribute)))


def main() -> None:
    """Review one clip and print the table."""
    import mediapipe  # noqa: F401
    import onnxruntime  # noqa: F401

    SPENT["imports"] = time.process_time() - STARTED
    given = sys.argv[1] if len(sys.argv) > 1 else str(next(ROOT.glob("sample_clips/mira_*.mp4")))
    watch(people.PeopleFinder, "run", "people finder")
    watch(landmarkers.Thunder, "run", "Thunder")
    watch(landmarkers.Landmarker, "_detect", "MediaPipe with silhouette")
    watch(landmarkers.Landmarker, "_start", "loading models")
    for module in (people, landmarkers):
        watch(module, "onnx_model", "loading models")
    watch(landmarkers, "outline", "outline")
    watch(landmarkers, "near_skeleton", "outline")
    watch(survey.camera.BackgroundShift, "add", "camera movement")
    watch(survey, "_sharpness", "blur")
    watch(estimate, "straight_edges", "straight edges of the surroundings")
    watch(frame.Frame, "_converted", "scaling and colour")
    watch(look.crop, "cut", "crops")
    watch(hand.HandFollower, "moved", "following the hand")
    watch(follow.SecondPass, "run", "decoding and the rest of the second pass")
    watch(estimate, "look_around", "decoding and the rest of the first pass")
    watch(reconstruct, "reconstruct_motion", "fit and angles")
    watch(analyse, "analyse_strokes", "strokes")
    watch(annotated, "draw_all", "drawing")
    watch(video.VideoWriter, "write", "encoding")
    watch(write, "write_annotated", "decoding and the rest of the annotated clip")
    watch(write, "write_tables", "tables")
    watch(write, "report_page", "curves, figures and page")
    start = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        review = watched("other", review_clip)(
            Path(given), load_standard("novice"), ReviewOptions(keep=False)
        )
        watched("other", write.write_review)(review, Path(folder))
    whole = time.process_time() - start + SPENT["imports"]
    frames = len(review.motion.t_s)
    print(
        f"{Path(given).name}: {frames} frames, {whole:.1f} s, {1000 * whole / frames:.1f} ms each"
    )
    for name, spent in sorted(SPENT.items(), key=lambda item: -item[1]):
        print(f"| {name} | {1000 * spent / frames:.1f} ms | {100 * spent / whole:.0f} % |")


if __name__ == "__main__":
    main()
