"""Sound read in pieces.

Chunks, excerpts, and sources brought to one time.
"""
