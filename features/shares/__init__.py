"""What share of a reading each element carries."""
