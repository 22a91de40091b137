"""The user's own songs to compare with.

Shelves, how they are measured, what is said about few of them, and groups among many.
"""
