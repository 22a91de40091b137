"""Sound read in pieces: chunks, excerpts, and sources brought to one time."""
