"""Landmarks, silhouette, and which person is rowing."""
