"""The studio's tools as pure functions over a `Signal`."""
