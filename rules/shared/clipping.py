"""What tells flattened peaks from ordinary ones."""

CLUSTERED = 0.08  # share of the loud moments: more peaks close together below the top were flat before a conversion (conversion-trial)
