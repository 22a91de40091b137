"""Rules about what masks what."""
