"""The guard itself: it lets files through and kills at an internet socket, also a native one."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from tests.no_internet import enforced_by_the_kernel, run_without_internet

kernel_only = pytest.mark.skipif(
    not enforced_by_the_kernel(), reason="no seccomp filter for this system"
)


def test_harmless_code_runs() -> None:
    done = run_without_internet(
        "import socket\nsocket.socketpair()\nprint(open(__import__('os').devnull).read() + 'ok')"
    )
    assert (done.returncode, done.stdout) == (0, "ok\n"), done.stderr


def test_python_connection_dies() -> None:
    done = run_without_internet("import socket\nsocket.create_connection(('127.0.0.1', 9))")
    assert done.returncode in {-signal.SIGSYS, -signal.SIGABRT}


@kernel_only
@pytest.mark.parametrize("family", [2, 10])
def test_native_socket_dies(family: int) -> None:
    code = f"import ctypes\nctypes.CDLL(None).socket({family}, 2, 0)\nprint('alive')"
    done = run_without_internet(code)
    assert (done.returncode, done.stdout) == (-signal.SIGSYS, "")


@kernel_only
def test_thread_and_child_die_too() -> None:
    code = (
        "import ctypes, threading\n"
        "t = threading.Thread(target=lambda: ctypes.CDLL(None).socket(2, 1, 0))\n"
        "t.start(); t.join(); print('alive')"
    )
    assert run_without_internet(code).returncode == -signal.SIGSYS
    child = (
        "import subprocess, sys\n"
        "print(subprocess.run([sys.executable, '-c', 'import socket; socket.socket()']).returncode)"
    )
    assert run_without_internet(child).stdout.strip() == str(-signal.SIGSYS)


def test_a_whole_review_opens_no_internet_socket(tmp_path: Path) -> None:
    """Decoding, both landmark models, drawing and pages, through the command line."""
    clip = Path(__file__).resolve().parents[1] / "sample_clips" / "mira_2026-05-09_sound.mp4"
    words = ["sideon", "review", str(clip), "--out", str(tmp_path), "--to", "7"]
    done = run_without_internet(
        f"import sys\nsys.argv = {words!r}\nfrom cli.main import main\nmain()"
    )
    assert done.returncode == 0, done.stderr
    folder = tmp_path / clip.stem
    assert (folder / "annotated.mp4").stat().st_size > 0
    assert (folder / "report.html").stat().st_size > 0
