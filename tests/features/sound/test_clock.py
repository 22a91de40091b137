"""Times as a player shows them."""

import pytest

from features.sound.clock import clock


@pytest.mark.parametrize(("seconds", "text"), [(0.0, "0:00"), (67.9, "1:07"), (3600.0, "1:00:00"), (7327.0, "2:02:07"), (-1.0, "0:00")])
def test_clock_reads_like_a_player(seconds: float, text: str) -> None:
    assert clock(seconds) == text
