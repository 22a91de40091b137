"""The spectrum: balance, resonances, and the ear-sensitive band."""
