"""Rules about how loud the mix can go."""
