"""The standard, findings, the first thing to fix, drills, set-up hints."""
