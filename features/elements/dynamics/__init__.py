"""An element's envelope, its attacks, and whether it needs compression."""
