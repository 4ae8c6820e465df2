"""The makers of reviews stand one folder up, those of seasons beside the tests of the season."""

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[2]
BESIDE = [str(TESTS / name) for name in ("output", "season", "squad")]
sys.path[:0] = [place for place in BESIDE if place not in sys.path]
