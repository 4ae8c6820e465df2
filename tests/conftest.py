"""Settings for all tests."""

from hypothesis import settings

# No test is timed: a slow machine must not fail what is right.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
