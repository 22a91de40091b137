"""What the ear does: masking thresholds and equal-loudness contours."""
