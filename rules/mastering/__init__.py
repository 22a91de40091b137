"""Rules of the mastering stage."""
