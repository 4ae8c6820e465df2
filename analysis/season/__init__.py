"""What is remembered between days: one SQLite file, with the pages beside it."""
