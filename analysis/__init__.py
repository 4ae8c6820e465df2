"""From the frames of a clip to what a rowing coach needs to say next.

The stages stand in one line, and imports point to the left only::

    clip → pose → motion → stroke → coaching → output

:mod:`analysis.review` runs them in order.
"""

import ctypes
import os
from contextlib import suppress

# Linear algebra here is many small problems: on one thread they are quicker than shared out, and
# the sums come out the same whatever the number of cores. So are small pictures: OpenCV's threads
# took twice the processor time that they saved. Read when the libraries are loaded.
for _pool in (
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "OMP_NUM_THREADS",
    "OPENCV_FOR_THREADS_NUM",
):
    os.environ.setdefault(_pool, "1")

# C's allocator (glibc) hands out memory from up to eight places a core, each thread from another
# one, and models start many threads: each place keeps pieces too small for what the next threads
# need. Told before there are any threads.
if "MALLOC_ARENA_MAX" not in os.environ:
    with suppress(AttributeError, OSError, TypeError):  # other allocators cannot be told
        _ARENA_MAX = -8  # from glibc's header malloc.h
        ctypes.CDLL(None).mallopt(_ARENA_MAX, max(2, os.cpu_count() or 1))

__version__ = "0.1.0"
