"""What to do, why, and how sure it is."""
