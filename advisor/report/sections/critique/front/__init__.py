"""The page that is read first."""
