"""Pictures of the elements, from their stems."""
