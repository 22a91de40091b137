"""The sections of the reports, a module and a template each, found by discovery."""
