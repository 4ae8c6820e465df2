"""The makers of seasons stand beside the tests of the season."""

import sys
from pathlib import Path

BESIDE = [str(Path(__file__).parents[1] / "season"), str(Path(__file__).parent)]
sys.path[:0] = [place for place in BESIDE if place not in sys.path]
