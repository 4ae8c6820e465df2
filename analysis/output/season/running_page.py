"""The session that is running: what came in, what is in work, what could not be read."""

from __future__ import annotations

#: The page's file inside the season folder.
RUNNING_PAGE = "running.html"
