"""Pictures of the song as a whole."""
