"""Measuring a song: every meter in one pass, every family as a record."""
