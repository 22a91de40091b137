"""Trials of remedies on the song, and the plan made of them."""
