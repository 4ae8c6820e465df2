"""Pose model files, shipped as package data; see NOTICE for where they come from."""
