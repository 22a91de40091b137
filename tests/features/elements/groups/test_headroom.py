"""What each element costs in clean loudness."""

import numpy as np
import pytest

from features.elements.groups.headroom import measure_headroom
from features.limiting.outlook import OutlookGoal, OutlookMeter, limiter_outlook
from features.loudness.level import LevelMeter, measure_level
from features.records.base import Span
from features.sound.signal import Samples, Signal

RATE_HZ = 44100
SECONDS = 8.0


def bed() -> Samples:
    """Return steady music-like noise."""
    random = np.random.default_rng(3)
    return (0.05 * random.standard_normal((2, int(SECONDS * RATE_HZ)))).astype(np.float32)


def strokes(height: float) -> Samples:
    """Return a short decaying stroke twice a second."""
    time_s = np.arange(int(0.05 * RATE_HZ)) / RATE_HZ
    stroke = height * np.exp(-time_s / 0.01) * np.sin(2 * np.pi * 180.0 * time_s)
    track = np.zeros((1, int(SECONDS * RATE_HZ)), np.float32)
    for start in range(RATE_HZ // 4, track.shape[1] - len(stroke), RATE_HZ // 2):
        track[0, start : start + len(stroke)] += stroke.astype(np.float32)
    return track


def clean_lufs(samples: Samples) -> float:
    """Return the clean loudness as the song's own outlook gives it."""
    sound = Signal(samples, RATE_HZ)
    meter, level = OutlookMeter(RATE_HZ, 2), LevelMeter(RATE_HZ, 2)
    meter.push(samples)
    level.push(samples)
    peak = 10.0 ** ((measure_level(level.finish()).true_peak_dbtp or 0.0) / 20.0)
    outlook = limiter_outlook(sound, meter.finish(), peak, Span(0.0, SECONDS), (), OutlookGoal(-13.0, -1.0, thorough=False)).clean_lufs
    assert outlook is not None
    return outlook


def test_the_peaky_element_costs_most_and_agrees_with_leaving_it_out() -> None:
    parts = {"bed": bed(), "strokes": np.repeat(strokes(0.9), 2, axis=0)}
    mix = np.asarray(parts["bed"] + parts["strokes"], np.float32)
    headroom = measure_headroom(Signal(mix, RATE_HZ), parts, (), -13.0, -1.0)
    out, down = headroom["strokes"].lu_out, headroom["strokes"].lu_per_db
    assert out is not None
    assert down is not None
    assert out == pytest.approx(clean_lufs(parts["bed"]) - clean_lufs(mix), abs=0.05)
    assert out > down > 0.2
    assert (headroom["bed"].lu_per_db or 0.0) < 0.0


def test_a_mono_stem_in_a_stereo_mix_is_taken_out_of_both_sides() -> None:
    stroke = strokes(0.9)
    mix = bed() + stroke
    headroom = measure_headroom(Signal(mix, RATE_HZ), {"strokes": stroke}, (), -13.0, -1.0)
    two = measure_headroom(Signal(mix, RATE_HZ), {"strokes": np.repeat(stroke, 2, axis=0)}, (), -13.0, -1.0)
    assert headroom == two


def test_the_only_element_taken_out_leaves_nothing_to_measure() -> None:
    alone = bed()
    element_headroom = measure_headroom(Signal(alone, RATE_HZ), {"bed": alone}, (), -13.0, -1.0)["bed"]
    assert element_headroom.lu_out is None
    assert element_headroom.lu_per_db == pytest.approx(0.0, abs=0.02)


def test_a_silent_element_costs_nothing() -> None:
    mix = bed()
    element_headroom = measure_headroom(Signal(mix, RATE_HZ), {"nothing": np.zeros_like(mix)}, (), -13.0, -1.0)["nothing"]
    assert element_headroom.lu_out == pytest.approx(0.0, abs=1e-6)
