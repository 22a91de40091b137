"""What the worker and the server agree on."""

REFUSED = 2
REFUSAL = "refused.txt"
LOG = "worker.log"
FIRST, REPORT = "first", "report"  # folders of the report before anything is tried, and of the whole
