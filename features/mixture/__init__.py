"""How stems sum to a mix: gains, offsets, and what is left over."""
