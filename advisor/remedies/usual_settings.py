"""Usual settings, taken where a remedy leaves one open: what is put in place and what the sentence states cannot differ."""

RATIO = 2.0
BAND_RATIO = 4.0  # of a dynamic equaliser
ATTACK_MS = 30.0
RELEASE_MS = 100.0
KNEE_DB = 6.0
BLEND_DB = -10.0
BELL_Q = 1.0
SHELF_Q = 0.5**0.5  # no bump on either side
PASS_ORDER = 2


def given(setting: float | None, usual: float) -> float:
    """Return the setting, or the usual one where it is left open."""
    return usual if setting is None else setting
