"""Rules about other speakers and other places."""
