"""The folder that bounces land in: which files are finished."""
