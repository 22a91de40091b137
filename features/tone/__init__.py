"""The spectrum: balance against a target, resonances, and the ear-sensitive band."""
