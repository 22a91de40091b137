"""The user's own songs to compare with: shelves, how they are measured, what is said about few of them, and groups among many."""
