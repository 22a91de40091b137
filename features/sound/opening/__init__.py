"""What stands between a path and its sound.

The door, the formats, and other programs.
"""
