"""Catch and release, phases, drill stage, measures of each stroke."""
