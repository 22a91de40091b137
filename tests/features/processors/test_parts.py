"""Gain on what strikes or sustains."""

import numpy as np
import pytest

from features.hits.separation import running_median
from features.processors import parts
from features.processors.parts import CONTEXT_S, part_gain, percussive, split
from features.sound.signal import Samples, Signal
from tests import signals

RATE = signals.RATE_HZ


def level_db(wave: np.ndarray) -> float:
    return float(10 * np.log10(np.square(wave.astype(float)).mean()))


def scene() -> tuple[Samples, Samples]:
    """Drum hits without tone, and a chord."""
    strokes = signals.placed(signals.hat_wave(RATE, 0.8, 0.01), signals.beat_times(4.0, 120.0), 4.0)
    return signals.stereo(strokes), signals.stereo(0.2 * signals.chord_wave(4.0))


def mixed() -> Samples:
    strokes, chord = scene()
    return strokes + chord


def test_zero_gain_returns_the_same_samples() -> None:
    song = signals.signal(signals.drums(0.5))
    assert part_gain(song, "percussive", 0.0) is song


def test_parts_add_up_to_the_whole() -> None:
    song = signals.signal(mixed())
    struck, sound = split(song)
    assert np.abs(struck.samples + sound.samples - song.samples).max() < 1e-6
    up = part_gain(part_gain(song, "percussive", 6.0), "sustained", 0.0)
    assert np.allclose(up.samples, song.samples + (10**0.3 - 1) * struck.samples, rtol=0.0, atol=1e-5)


def test_each_part_holds_its_own_sound() -> None:
    strokes, chord = scene()
    assert level_db(percussive(strokes, RATE)) == pytest.approx(level_db(strokes), abs=1.0)
    assert level_db(percussive(chord, RATE)[:, RATE:-RATE]) < level_db(chord) - 15.0


def test_lowering_the_sustained_part_lowers_the_chord_and_leaves_the_strokes() -> None:
    strokes, chord = scene()
    done = part_gain(signals.signal(strokes + chord), "sustained", -12.0).samples
    between = slice(int(1.2 * RATE), int(1.45 * RATE))
    at = slice(int(1.0 * RATE), int(1.01 * RATE))
    assert level_db(done[:, between]) == pytest.approx(level_db(chord[:, between]) - 10.0, abs=2.5)
    assert level_db(done[:, at]) == pytest.approx(level_db((strokes + chord)[:, at]), abs=2.0)


def test_a_piece_with_context_is_the_same_as_the_whole() -> None:
    song = mixed()
    hop = 512
    first, last, lead = 100 * hop, 250 * hop, -(-int(CONTEXT_S * RATE) // hop) * hop
    piece = percussive(song[:, first - lead : last + lead], RATE)[:, lead:-lead]
    assert np.allclose(piece, percussive(song, RATE)[:, first:last], rtol=0.0, atol=1e-4)


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000])
def test_rates(rate_hz: int) -> None:
    chord = signals.stereo(0.2 * signals.chord_wave(2.0, rate_hz))
    struck = percussive(chord, rate_hz)[:, rate_hz // 2 : -rate_hz // 2]
    assert level_db(struck) < level_db(chord) - 12.0


@pytest.mark.parametrize("frames", [0, 1, 500])
@pytest.mark.parametrize("channels", [1, 2])
def test_short_sounds(frames: int, channels: int) -> None:
    done = part_gain(Signal(np.full((channels, frames), 0.3, np.float32), RATE), "percussive", 3.0)
    assert done.samples.shape == (channels, frames)
    assert np.isfinite(done.samples).all()


def test_the_medians_see_groups_of_bins_once_for_all_channels(monkeypatch: pytest.MonkeyPatch) -> None:
    """They take most of the time, so their cells are what a trial costs."""
    cells: list[int] = []

    def counted(values: np.ndarray, half: int, medians: np.ndarray) -> None:
        cells.append(values.size)
        running_median(values, half, medians)

    monkeypatch.setattr(parts, "running_median", counted)
    song = mixed()
    percussive(song, RATE)
    of_both_channels = sum(cells)
    cells.clear()
    percussive(song[:1], RATE)
    assert sum(cells) == of_both_channels
    bins_and_frames = 1025 * (song.shape[1] / 512 + 8)
    assert of_both_channels < 2 * 0.36 * bins_and_frames
