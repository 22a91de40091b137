"""Rules about levels of elements."""
