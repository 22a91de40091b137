"""The sections of the critique's report."""
