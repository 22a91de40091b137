"""Rules about clipping and limiting that is in the mix already."""
