"""Pictures of a critique."""
