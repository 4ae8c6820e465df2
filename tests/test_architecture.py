"""The shape of the project, held by tests: imports point one way, start-up stays light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

#: Left to right; a module imports only from its own stage and from those left of it.
STAGES = (
    "errors",
    "checks",
    "at_most",
    "digest",
    "kept_files",
    "coach_marks",
    "frame",
    "needed",
    "decoding",
    "clip",
    "pose",
    "motion",
    "stroke",
    "coaching",
    "result",
    "filming",
    "kept_results",
    "season",
    "output",
    "review",
    "check_filming",
    "job",
    "batch",
    "cluster",
    "squad",
)
#: Left of `clip` and yet needed by it: the facts that the pose stage hands on.
ALLOWED = {("clip", "pose")}


def stage_of(module: str) -> str:
    return module.split(".")[1]


def imports_of(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found.update(name.name for name in node.names)
    return found


SOURCES = sorted((ROOT / "analysis").rglob("*.py"))


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_one_way(path: Path) -> None:
    inside = path.relative_to(ROOT).with_suffix("").parts
    if len(inside) < 2 or inside[1] == "__init__":
        return
    here = STAGES.index(inside[1])
    for module in imports_of(path):
        assert not module.startswith("cli"), f"{path} imports the command line: {module}"
        if module.startswith("analysis."):
            stage = stage_of(module)
            assert stage in STAGES, f"{path} imports {module}, a stage that has no place yet"
            if (inside[1], stage) not in ALLOWED:
                assert STAGES.index(stage) <= here, f"{path} imports {module} from its right"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_analysis_neither_prints_nor_parses_arguments(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    calls = {
        n.func.id
        for n in ast.walk(tree)
        if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
    }
    assert "print" not in calls
    assert not {"argparse", "typer"} & {m.split(".")[0] for m in imports_of(path)}


def test_help_imports_nothing_heavy() -> None:
    heavy = ("numpy", "cv2", "mediapipe", "onnxruntime", "matplotlib", "av", "scipy")
    code = f"import sys, cli.main\nprint([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
