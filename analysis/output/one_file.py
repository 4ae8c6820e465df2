"""The page, its pictures and its clips in one HTML file, to be sent.

Clips and pictures stand in it as base64 text, which is a third larger than the files themselves.
"""

from __future__ import annotations

import base64
import tempfile
from collections.abc import Mapping
from pathlib import Path

from analysis.output.annotated import write_annotated
from analysis.output.language import Text
from analysis.output.page import ReportPage, render_report
from analysis.result import Review

#: What follows the clip's name in the file's name.
ENDING = "_one_file.html"

#: Largest file that is made, bytes. Mail makes it a third larger again, and many mail servers take
#: 25 MB (common practice): 18 × 4/3 = 24.
LIMIT_BYTES = 18_000_000

#: Long side of the smaller clip that is tried when the whole one is too large, px.
SMALLER_PX = 640

#: How a packed clip is marked in the file.
_PLAIN_MARK = 'id="file-plain"'


def write_one_file(
    review: Review,
    page: ReportPage,
    folder: Path,
    text: Text,
    *,
    limit_bytes: int = LIMIT_BYTES,
) -> Path | None:
    """Write ``<out_name>_one_file.html`` with everything in it, into the folder of a review.

    Parameters
    ----------
    review : Review
    page : ReportPage
    folder : Path
        Where the page's pictures and clips lie.
    text : Text
    limit_bytes : int
        When the file would be larger, the undrawn clip is left out, then the clip made smaller.

    Returns
    -------
    Path or None
        ``None`` when it would be too large even so; then nothing is written.
    """
    target = folder / f"{review.out_name}{ENDING}"
    pictures = {p.name: p for p in sorted(folder.glob("*.jpg"))}
    drawn, plain = folder / "annotated.mp4", folder / "plain.mp4"
    choices: list[dict[str, Path]] = [pictures]
    if page.has_clip:
        choices = [{**pictures, "annotated.mp4": drawn, "plain.mp4": plain},
                   {**pictures, "annotated.mp4": drawn}]  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="sideon-") as place:
        for number in range(len(choices) + 1):
            if number == len(choices):
                if not page.has_clip:
                    return None
                small = Path(place) / "annotated.mp4"
                write_annotated(review, small, longest_px=SMALLER_PX, text=text)
                choices.append({**pictures, "annotated.mp4": small})
            files = choices[number]
            if 4 / 3 * sum(p.stat().st_size for p in files.values()) > limit_bytes:
                continue
            made = render_report(page, text, packed(files)).encode("utf-8")
            if len(made) <= limit_bytes:
                target.write_bytes(made)
                return target
    return None


def packed(files: Mapping[str, Path]) -> dict[str, str]:
    """Return the content of files by name, as base64 text."""
    return {name: base64.b64encode(p.read_bytes()).decode("ascii") for name, p in files.items()}


def one_file_words(folder: Path, out_name: str, limit_bytes: int = LIMIT_BYTES) -> str:
    """Say how large the file became and what had to be left out, or why there is none."""
    file = folder / f"{out_name}{ENDING}"
    most = limit_bytes / 1e6
    if not file.exists():
        clip = folder / "annotated.mp4"
        size = 4 / 3 * clip.stat().st_size / 1e6 if clip.exists() else 0.0
        return (
            f"not made: with its clip it would be about {size:.0f} MB, and even with a smaller "
            f"clip more than {most:.0f} MB. Review a part of the clip with --from and --to."
        )
    said = f"{file} ({file.stat().st_size / 1e6:.1f} MB; at most {most:.0f} MB)"
    if (folder / "plain.mp4").exists() and _PLAIN_MARK not in file.read_text(encoding="utf-8"):
        said += ", without the undrawn clip to stay below that"
    return said
