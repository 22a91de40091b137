"""The page: players, tables and look around the report's text."""
