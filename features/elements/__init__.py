"""The elements of a song, measured from its stems."""
