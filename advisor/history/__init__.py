"""What was advised for each bounce of a project, what was done about it, and what that brought."""
