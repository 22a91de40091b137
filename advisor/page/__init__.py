"""The page that is served to this machine."""
