"""Measuring a song.

Every meter in one pass, every family as a record.
"""
