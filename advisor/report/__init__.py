"""The report: report.json, and the texts made from it."""
