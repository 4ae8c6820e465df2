"""From the frames of a clip to what a rowing coach needs to say next.

The stages stand in one line, and imports point to the left only::

    clip → pose → motion → stroke → coaching → output

:mod:`analysis.review` runs them in order.
"""

import os

# Linear algebra here is many small problems: on one thread they are quicker than shared out, and
# the sums come out the same whatever the number of cores. Read when NumPy and SciPy are loaded.
for _pool in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_pool, "1")

__version__ = "0.1.0"
