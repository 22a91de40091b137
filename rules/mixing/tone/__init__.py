"""Rules about the spectrum."""
