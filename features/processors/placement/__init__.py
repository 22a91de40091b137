"""Level and place: gain, pan, width, polarity and delay."""
