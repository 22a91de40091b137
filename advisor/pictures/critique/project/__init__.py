"""Pictures of the song among its earlier bounces."""
