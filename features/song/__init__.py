"""The song as a whole: its sections, and its headline readings."""
