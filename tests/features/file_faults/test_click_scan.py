"""Clicks of an element, and how many of a mix's clicks it carries."""

import numpy as np

from features.file_faults.click_scan import clicks_of, share_among
from features.sound.signal import Signal
from tests import signals

RATE_HZ = 44100
PLACES_S = (1.0, 1.7, 2.4, 3.1)


def crackling(places_s: tuple[float, ...], seed: int) -> Signal:
    """Return soft noise without highs, with a single broken sample at each place."""
    tone = signals.sine(220.0 * seed, 5.0, peak_dbfs=-20.0, rate_hz=RATE_HZ)
    sound = np.atleast_2d(np.array(tone, np.float32))
    for place_s in places_s:
        sound[:, round(place_s * RATE_HZ)] += 0.4
    return Signal(sound, RATE_HZ)


def test_clicks_lie_where_they_were_planted() -> None:
    assert sorted(round(moment.start_s, 2) for moment in clicks_of(crackling(PLACES_S, 1))) == list(PLACES_S)
    assert clicks_of(crackling((), 1)) == ()


def test_an_element_carries_the_clicks_of_its_mix() -> None:
    crackle, clean = crackling(PLACES_S[:3], 1), crackling((), 2)
    mix = Signal(crackle.samples + clean.samples, RATE_HZ)
    assert share_among(clicks_of(mix), clicks_of(crackle)) == 1.0
    assert share_among(clicks_of(mix), clicks_of(clean)) == 0.0
    assert share_among((), clicks_of(crackle)) == 0.0
