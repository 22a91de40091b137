"""What other speakers and other places leave of a song."""
