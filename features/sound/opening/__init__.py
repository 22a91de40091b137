"""What stands between a path and its sound: the door, the formats, and other programs."""
