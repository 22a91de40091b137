"""What the elements of a song are, measured from its stems."""
