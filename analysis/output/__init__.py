"""Annotated clip, stills, figures, pages, tables."""
