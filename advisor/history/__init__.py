"""What was advised for each bounce of a project.

It shows what was done about it, and what that brought.
"""
