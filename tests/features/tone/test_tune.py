"""A tune is told from a ringing: on notes and noise whose pitches are known."""

import numpy as np
import pytest
from scipy import signal

from features.records.base import Span
from features.sound.signal import Signal
from features.tone.tune import notes_around, spread_over

RATE_HZ = 44100
NOTE_S = 0.5
WHERE = (Span(0.0, 6.0), Span(6.0, 12.0))
C5, D5, B4 = 523.25, 587.33, 493.88


def played(*notes_hz: float, ring_db: float = 0.0, ring_hz: float = C5) -> Signal:
    """Return notes played in turn for 12 s, each with an overtone; a bell of Q 12 lifts those near ``ring_hz``."""
    frames = np.arange(round(NOTE_S * RATE_HZ))
    envelope = np.minimum(1.0, frames / 500.0) * np.exp(-frames / (0.4 * RATE_HZ))
    tones = [envelope * (np.sin(2 * np.pi * hz * frames / RATE_HZ) + 0.3 * np.sin(4 * np.pi * hz * frames / RATE_HZ)) for hz in notes_hz]
    line = np.tile(np.concatenate(tones), 30)[: 12 * RATE_HZ]
    if ring_db:
        gain, width = 10 ** (ring_db / 40), np.sin(2 * np.pi * ring_hz / RATE_HZ) / 24
        middle = -2 * np.cos(2 * np.pi * ring_hz / RATE_HZ)
        line = signal.lfilter([1 + width * gain, middle, 1 - width * gain], [1 + width / gain, middle, 1 - width / gain], line)
    return Signal(np.array([line, line], np.float32) * 0.2, RATE_HZ)


def test_notes_that_take_turns_are_a_tune() -> None:
    assert set(notes_around(played(C5, D5, B4, D5), 552.0, WHERE)) >= {"C5", "D5"}


def test_one_note_all_along_is_none() -> None:
    assert notes_around(played(C5), C5, WHERE) == ()


def test_a_note_that_rings_above_the_others_is_none() -> None:
    """D5 and A4 play as often, but 12 dB below what the ringing makes of C5."""
    assert notes_around(played(C5, 659.26, 440.0, ring_db=14.0), C5, WHERE) == ()


def test_noise_is_no_tune_however_its_pitches_jump() -> None:
    noise = np.random.default_rng(3).standard_normal((2, 12 * RATE_HZ)).astype(np.float32) * 0.1
    assert notes_around(Signal(noise, RATE_HZ), 1000.0, WHERE) == ()


@pytest.mark.parametrize("where", [(), (Span(0.0, 0.01),), (Span(50.0, 60.0),)])
def test_where_there_is_nothing_to_track_there_is_no_tune(where: tuple[Span, ...]) -> None:
    assert notes_around(played(C5, D5), 552.0, where) == ()


def test_silence_has_no_notes() -> None:
    assert notes_around(Signal(np.zeros((2, 12 * RATE_HZ), np.float32), RATE_HZ), 552.0, WHERE) == ()


def test_stretches_lie_where_it_plays() -> None:
    plays = (Span(2.0, 9.0), Span(30.0, 60.0))
    spans = spread_over(plays, 4, 5.0)
    assert len(spans) == 4
    assert all(any(part.start_s <= span.start_s < part.end_s for part in plays) for span in spans)
    assert spread_over((), 4, 5.0) == ()
