"""Left against right: correlation, width, mono loss, polarity and delay."""
