"""Remedy kinds, one in each module: what is known of a kind stands there and nowhere else."""
