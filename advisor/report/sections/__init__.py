"""The sections of report.md, one module each, found by discovery and put in the order of their places."""
