"""Rules of the mixing stage."""
