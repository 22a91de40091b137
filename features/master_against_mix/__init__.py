"""A master against its mix: equaliser, moving gain, tone, and damage."""
