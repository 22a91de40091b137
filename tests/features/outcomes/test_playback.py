"""Small speakers: what lies below is lost, what lies above is not."""

import numpy as np
import pytest

from features.elements.levels.level_plan import k_response
from features.outcomes.playback import small_speaker_loss_db

HZ = tuple(1000.0 * 10.0 ** (step / 10.0) for step in range(-17, 14))


def test_a_song_of_highs_loses_nothing_and_one_of_lows_nearly_all() -> None:
    highs = tuple(0.0 if hz > 2000.0 else -120.0 for hz in HZ)
    lows = tuple(0.0 if hz < 60.0 else -120.0 for hz in HZ)
    high_loss, low_loss = small_speaker_loss_db(HZ, highs), small_speaker_loss_db(HZ, lows)
    assert high_loss == pytest.approx(0.0, abs=0.01)
    assert low_loss is not None
    assert low_loss > 25.0


def test_two_bands_of_equal_loudness_lose_what_the_lower_one_was() -> None:
    hz = (37.5, 9600.0)
    k = k_response(np.array(hz), 48000)
    density = tuple((-10 * np.log10(np.array(hz) * k)).tolist())
    assert small_speaker_loss_db(hz, density) == pytest.approx(3.01, abs=0.01)


def test_level_says_nothing_and_silence_has_no_loss() -> None:
    curve = tuple(-3.0 * step for step in range(len(HZ)))
    louder = tuple(level_db + 10.0 for level_db in curve)
    assert small_speaker_loss_db(HZ, curve) == pytest.approx(small_speaker_loss_db(HZ, louder))
    assert small_speaker_loss_db((), ()) is None
