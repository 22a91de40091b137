"""The sections of the master check."""
