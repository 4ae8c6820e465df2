"""Settings for all tests."""

import os
import tempfile

from hypothesis import settings

# No test is timed: a slow machine must not fail what is right.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

# Landmarks kept by a run of the tests are nobody else's, and go with it.
_kept = tempfile.TemporaryDirectory(prefix="sideon-tests-")
os.environ["SIDEON_CACHE"] = _kept.name
