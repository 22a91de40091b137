"""What the whole program shares: errors, progress, settings, words."""
