"""Rules about clipping and limiting in the mix."""
