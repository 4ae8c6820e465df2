"""Start-up: help and plain mistakes are answered before anything heavy is imported."""

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {
    "av",
    "cv2",
    "jinja2",
    "matplotlib",
    "mediapipe",
    "numpy",
    "onnxruntime",
    "PIL",
    "rich",
    "scipy",
    "sqlite3",
}

_RUN = """
import json, sys
sys.argv = ["sideon", *json.loads(sys.argv[1])]
from cli.main import main
code = 0
try:
    main()
except SystemExit as leaving:
    code = leaving.code
print("\\n" + json.dumps([code, sorted(sys.modules)]))
"""


def run(*words: str) -> tuple[int, set[str]]:
    """Run the command; return its exit code and all modules that it imported."""
    done = subprocess.run(
        [sys.executable, "-c", _RUN, json.dumps(words)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    code, modules = json.loads(done.stdout.splitlines()[-1])
    return code or 0, set(modules)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--help",), 0),
        (("--version",), 0),
        (("review", "--help"), 0),
        (("squad", "--help"), 0),
        (("review",), 2),
        (("review", "nowhere.mp4"), 2),
        (("review", ".", "--who", "0"), 2),
        (("review", ".", "--from", "5", "--to", "3"), 2),
        (("review", ".", "--stage", "sculling"), 2),
        (("squad", "nowhere"), 2),
        (("standard", "nope"), 2),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else str(value),
)
def test_nothing_heavy_is_imported(words: tuple[str, ...], code: int) -> None:
    left_with, modules = run(*words)
    assert left_with == code
    assert not modules & HEAVY


def test_a_review_does_import_them() -> None:
    """The test above would notice: a file that is no clip is looked at with the decoder."""
    code, modules = run("review", str(Path(__file__)), "--out", "/dev/null/nowhere")
    assert code == 2
    assert {"numpy", "av"} <= modules


def test_help_takes_little_more_than_its_option_parser() -> None:
    """A ratio, measured in turns, so that the machine's speed and load do not matter."""

    def seconds(*words: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, check=True)
        return time.perf_counter() - start

    ratios = [seconds("-m", "cli.main", "--help") / seconds("-c", "import typer") for _ in range(7)]
    # Measured when this was written: 1.5; numpy alone would make it about 3.
    assert min(ratios) <= 2.5
