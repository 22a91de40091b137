"""Loudness, true peaks, and how peaks stand above the level."""
