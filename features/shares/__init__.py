"""How much of a reading of the mix each element carries."""
