"""The mastering stage of a critique.

A chain found on this song, and a preview of it.
"""
