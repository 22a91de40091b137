"""Pictures of a master check."""
