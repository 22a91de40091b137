"""The reports' sections, each a module and a template."""
