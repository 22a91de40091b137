"""The critique's report as typed values: what every text, the JSON and its schema derive from."""
