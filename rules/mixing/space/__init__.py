"""Rules about width, mono and polarity."""
