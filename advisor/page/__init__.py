"""The page on this machine: drop a mix, watch, read, listen."""
