"""The report: one document (report.json), and texts rendered from it alone."""
