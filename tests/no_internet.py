"""Run code in a process that dies when anything in it opens an internet socket.

Python's own audit hooks do not see native code, so on Linux the kernel is asked: a seccomp
filter kills the process at ``socket(AF_INET | AF_INET6, …)``, whoever calls it. Other systems
have only the audit hook.
"""

from __future__ import annotations

import ctypes
import os
import platform
import signal
import struct
import subprocess
import sys

# linux/filter.h, linux/seccomp.h, linux/audit.h, and the system call tables.
_LOAD, _EQUAL, _RETURN = 0x20, 0x15, 0x06
_ALLOW, _KILL_PROCESS = 0x7FFF0000, 0x80000000
_PR_SET_NO_NEW_PRIVS, _PR_SET_SECCOMP, _SECCOMP_MODE_FILTER = 38, 22, 2
_NUMBER_AT, _ARCH_AT, _FIRST_ARGUMENT_AT = 0, 4, 16
_AF_INET, _AF_INET6 = 2, 10
_IO_URING_SETUP = 425
#: Machine to (audit architecture, number of the socket call).
_MACHINES = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}


def enforced_by_the_kernel() -> bool:
    """Tell whether this machine can kill at an internet socket opened by native code."""
    return sys.platform == "linux" and platform.machine() in _MACHINES


def forbid_internet() -> None:
    """From here on this process dies when it, or native code in it, opens an internet socket."""
    sys.addaudithook(_refuse)
    if not enforced_by_the_kernel():
        return
    arch, socket_call = _MACHINES[platform.machine()]
    rules = [
        (_LOAD, 0, 0, _ARCH_AT),
        (_EQUAL, 0, 7, arch),  # another architecture's numbers: kill
        (_LOAD, 0, 0, _NUMBER_AT),
        (_EQUAL, 5, 0, _IO_URING_SETUP),  # could open sockets unseen: kill
        (_EQUAL, 0, 3, socket_call),
        (_LOAD, 0, 0, _FIRST_ARGUMENT_AT),
        (_EQUAL, 2, 0, _AF_INET),
        (_EQUAL, 1, 0, _AF_INET6),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _KILL_PROCESS),
    ]
    code = b"".join(struct.pack("HBBI", *rule) for rule in rules)
    kept = ctypes.create_string_buffer(code)
    program = struct.pack("HxxxxxxP", len(rules), ctypes.addressof(kept))
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) or libc.prctl(
        _PR_SET_SECCOMP, _SECCOMP_MODE_FILTER, ctypes.create_string_buffer(program), 0, 0
    ):
        raise OSError(ctypes.get_errno(), "the kernel takes no seccomp filter")


def _refuse(event: str, args: tuple[object, ...]) -> None:
    if event in {"socket.connect", "socket.getaddrinfo", "socket.sendto"}:
        os.write(2, f"internet: {event} {args[1:]}\n".encode())
        os.kill(os.getpid(), signal.SIGABRT)


def run_without_internet(
    code: str, *args: str, timeout_s: float = 300
) -> subprocess.CompletedProcess[str]:
    """Run Python code in a new process under `forbid_internet`."""
    start = "from tests.no_internet import forbid_internet\nforbid_internet()\n"
    return subprocess.run(
        [sys.executable, "-c", start + code, *args],
        capture_output=True,
        text=True,
        timeout=timeout_s,
        check=False,
    )
