"""Many clips reviewed at once: told in their order, the same codes, nothing half left behind."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS)]

import fake_told  # noqa: E402

from analysis.review import ReviewOptions  # noqa: E402
from cli import review_run  # noqa: E402

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")


def clips_of(folder: Path, *contents: str) -> list[Path]:
    folder.mkdir(exist_ok=True)
    paths = []
    for i, content in enumerate(contents):
        paths.append(folder / f"rower{i}_2026-01-0{i + 1}.mp4")
        paths[-1].write_text(content)
    return paths


def run(paths, out, **more):
    return review_run.run(
        paths,
        out,
        ReviewOptions(),
        standard_name="novice",
        draw=True,
        **{"as_json": False, "quiet": False, "review": fake_told.review} | more,
    )


def test_told_in_the_order_given_whoever_ends_first(tmp_path, capsys):
    paths = clips_of(tmp_path / "in", "0.8", "0", "nobody", "0.1")
    assert run(paths, tmp_path / "out", workers=2) == 1
    said, complained = capsys.readouterr()
    lines = [line for line in said.splitlines() if line]
    assert lines[:-1] == [
        f"{paths[i].name}{more}" for i in (0, 1, 3) for more in ("", " was reviewed")
    ]
    assert lines[-1] == f"3 of 4 reviewed: {tmp_path / 'out' / 'index.html'}"
    assert complained == f"{paths[2].name}: Nobody rows in this clip: film from the side.\n"
    page = (tmp_path / "out" / "index.html").read_text()
    places = [page.index(f"rower{i}_2026") for i in (0, 1, 3)]
    assert places == sorted(places)


def test_json_is_the_same_from_one_worker_and_from_many(tmp_path, capsys):
    paths = clips_of(tmp_path / "in", "0.3", "0", "nobody")
    documents = []
    for workers in (1, 2):
        assert run(paths, tmp_path / "out", workers=workers, as_json=True) == 1
        documents.append(json.loads(capsys.readouterr().out))
        pids = [review.pop("pid") for review in documents[-1]["reviewed"]]
        assert (len(set(pids)) == 1) == (workers == 1)
    assert documents[0] == documents[1]
    assert [r["file"] for r in documents[0]["reviewed"]] == [p.name for p in paths[:2]]
    assert [f["file"] for f in documents[0]["failed"]] == [str(paths[2])]


def test_a_single_clip_stays_in_this_process(tmp_path, capsys):
    (path,) = clips_of(tmp_path / "in", "0")
    assert run([path], tmp_path / "out", as_json=True) == 0
    assert json.loads(capsys.readouterr().out)["reviewed"][0]["pid"] == os.getpid()
    two = clips_of(tmp_path / "in", "0", "0")
    assert run(two, tmp_path / "out", workers=1, as_json=True) == 0
    pids = {r["pid"] for r in json.loads(capsys.readouterr().out)["reviewed"]}
    assert os.getpid() not in pids


def test_to_be_shared_without_a_name_in_folders_or_index(tmp_path, capsys):
    paths = clips_of(tmp_path / "in", "0", "nobody")
    assert run(paths, tmp_path / "out", workers=2, share=True) == 1
    said = capsys.readouterr()
    assert paths[0].name in said.out
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["clip-1"]
    # The stand-in keeps to what it is told only when the clip is a good one: this one tattles.
    (tattler,) = clips_of(tmp_path / "in", "names")
    assert run([tattler], tmp_path / "out", share=True) == 1
    assert "Do not share" in capsys.readouterr().err
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["clip-1", "clip-2"]


# Whoever starts the tests in the background may have had Ctrl-C ignored: here it counts.
SCRIPT = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path[:0] = {places!r}
if __name__ == "__main__":
    from pathlib import Path
    import fake_told
    from analysis.review import ReviewOptions
    from cli import exit_codes, review_run
    try:
        review_run.run(
            [Path(p) for p in sys.argv[2:]], Path(sys.argv[1]), ReviewOptions(),
            standard_name="novice", draw=True, as_json=False, quiet=False, workers=2,
            review=fake_told.review,
        )
    except KeyboardInterrupt:
        sys.exit(exit_codes.STOPPED)
"""


@POSIX
def test_ctrl_c_keeps_what_is_done_and_leaves_nothing_half(tmp_path):
    paths = clips_of(tmp_path / "in", "0", "60", "60", "60")
    out, script = tmp_path / "out", tmp_path / "run.py"
    script.write_text(SCRIPT.format(places=[str(TESTS.parent), str(TESTS)]))
    running = subprocess.Popen(
        [sys.executable, str(script), str(out), *map(str, paths)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    end = time.monotonic() + 60
    while len(list(out.glob(".*.part"))) < 2 or not (out / paths[0].stem).exists():
        assert time.monotonic() < end, running.poll()
        time.sleep(0.02)
    os.killpg(running.pid, signal.SIGINT)
    said, complained = running.communicate(timeout=30)
    assert (running.returncode, complained) == (130, "")
    assert paths[0].name in said
    assert sorted(p.name for p in out.iterdir()) == [paths[0].stem]
