"""Every kind of remedy reaches its processor with its settings, and works on the part it names alone."""

import numpy as np
import pytest

from advisor.remedies.apply import apply
from advisor.remedies.discovery import all_kinds
from advisor.remedies.parts import part_of
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests import signals

RATE_HZ = 44100


def stereo() -> Signal:
    generator = np.random.default_rng(5)
    return Signal((0.1 * generator.normal(size=(2, RATE_HZ))).astype(np.float32), RATE_HZ)


NEUTRAL = {
    "gain": Remedy("gain", gain_db=0.0), "bell": Remedy("bell", frequency_hz=250.0, gain_db=0.0, q=1.0),
    "low_shelf": Remedy("low_shelf", frequency_hz=100.0, gain_db=0.0), "high_shelf": Remedy("high_shelf", frequency_hz=5000.0, gain_db=0.0),
    "dynamic_bell": Remedy("dynamic_bell", frequency_hz=3000.0, gain_db=0.0, q=1.0, threshold_dbfs=-60.0),
    "compressor": Remedy("compressor", threshold_dbfs=0.0, ratio=2.0), "peak_limiter": Remedy("peak_limiter", ceiling_dbfs=6.0),
    "saturation": Remedy("saturation", gain_db=0.0), "waveshaper": Remedy("waveshaper", gain_db=0.0),
    "side_gain": Remedy("side_gain", "side", gain_db=0.0),
    "pan": Remedy("pan", gain_db=0.0), "delay": Remedy("delay", "right", delay_ms=0.0),
}  # fmt: skip


def test_every_kind_but_those_a_mix_cannot_take_has_a_processor() -> None:
    assert {kind.name for kind in all_kinds().values() if kind.process is None} == {"none"}
    with pytest.raises(ValueError, match="cannot be applied"):
        apply(Remedy("none"), stereo())


@pytest.mark.parametrize("kind", sorted(NEUTRAL))
def test_neutral_settings_change_nothing(kind: str) -> None:
    sound = stereo()
    assert np.allclose(apply(NEUTRAL[kind], sound).samples, sound.samples, atol=1e-6)


@pytest.mark.parametrize("part", ["percussive", "sustained", "mid", "side", "left", "right"])
def test_a_part_and_the_rest_are_the_whole(part: str) -> None:
    sound = stereo()
    gone = apply(Remedy("gain", part, gain_db=-200.0), sound).samples
    separated = part_of(part, sound)
    assert separated is not None
    assert np.allclose(gone + separated, sound.samples, atol=1e-5)
    assert float(np.abs(separated).max()) > 0.01


def test_side_and_channel_remedies_leave_the_other_side_alone() -> None:
    sound = stereo()
    assert np.array_equal(apply(Remedy("gain", "left", gain_db=-3.0), sound).samples[1], sound.samples[1])
    assert np.array_equal(apply(Remedy("polarity", "right"), sound).samples[1], -sound.samples[1])
    wide = apply(Remedy("bell", "side", frequency_hz=1000.0, gain_db=-6.0, q=1.0), sound).samples
    assert np.allclose(wide.sum(axis=0), sound.samples.sum(axis=0), atol=1e-5)


def test_mono_has_no_side() -> None:
    sound = Signal(stereo().samples[:1], RATE_HZ)
    assert part_of("side", sound) is None
    assert apply(Remedy("bell", "side", frequency_hz=1000.0, gain_db=-6.0), sound) is sound


def test_settings_arrive() -> None:
    tone = Signal(signals.sine(1000.0, 1.0, RATE_HZ, -6.0), RATE_HZ)
    before = float(np.sqrt(np.mean(tone.samples[:, 10000:30000] ** 2)))
    after = float(np.sqrt(np.mean(apply(Remedy("bell", frequency_hz=1000.0, gain_db=-6.0, q=1.0), tone).samples[:, 10000:30000] ** 2)))
    assert 20 * np.log10(after / before) == pytest.approx(-6.0, abs=0.05)


def test_a_missing_setting_is_named() -> None:
    with pytest.raises(ValueError, match="needs a frequency"):
        apply(Remedy("bell", gain_db=-3.0), stereo())
    with pytest.raises(ValueError, match="needs a threshold"):
        apply(Remedy("compressor"), stereo())


def test_an_element_is_turned_and_delayed_in_all_its_channels() -> None:
    sound = stereo()
    assert np.array_equal(apply(Remedy("polarity", "bass line"), sound).samples, -sound.samples)
    late = apply(Remedy("delay", "bass line", delay_ms=1000.0 * 10 / RATE_HZ), sound).samples
    assert np.array_equal(late[:, 10:], sound.samples[:, :-10])


def test_a_mono_element_moved_to_a_side_becomes_stereo() -> None:
    moved = apply(Remedy("pan", "shaker", gain_db=6.0), Signal(stereo().samples[:1], RATE_HZ)).samples
    assert moved.shape[0] == 2
    assert np.allclose(20 * np.log10(np.abs(moved[1]) / np.abs(moved[0])), 6.0, atol=0.01)


def test_a_band_dips_while_its_key_sounds_and_not_otherwise() -> None:
    bass = Signal(signals.sine(60.0, 2.0, RATE_HZ, -12.0), RATE_HZ)
    kick = np.zeros((1, 2 * RATE_HZ), np.float32)
    kick[:, RATE_HZ:] = 0.5
    dip = Remedy("dynamic_bell", "bass line", frequency_hz=60.0, gain_db=-6.0, q=1.0, key="kick")
    ducked = apply(dip, bass, Signal(kick, RATE_HZ)).samples
    assert np.array_equal(ducked[:, :RATE_HZ], bass.samples[:, :RATE_HZ])
    before, after = (float(np.abs(samples[0, -RATE_HZ // 2 :]).max()) for samples in (bass.samples, ducked))
    assert 20 * np.log10(after / before) == pytest.approx(-6.0, abs=0.1)
    with pytest.raises(ValueError, match="needs a dynamic bell and the sound"):
        apply(dip, bass)
