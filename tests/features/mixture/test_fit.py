"""How stems sum to a mix, on planted gains, residuals and doubles."""

import numpy as np
import pytest

from features.mixture import fit as alignment
from features.mixture.stem_products import StemProducts, StemProductsMeter
from features.records.base import Span
from features.sound.signal import Samples
from tests import signals

RATE_HZ = 22050
SECONDS = 12.0


def tone_noise(low_hz: float, high_hz: float, seed: int, channels: int = 2) -> Samples:
    waves = [signals.pink_wave(SECONDS, RATE_HZ, -24.0, seed + 50 * channel, low_hz, high_hz) for channel in range(channels)]
    return np.asarray(waves, np.float32)


PARTS = (tone_noise(40, 200, 1), tone_noise(100, 2000, 2, 1), tone_noise(500, 8000, 3), tone_noise(3000, 10000, 4))
ALL = np.ones(len(PARTS), np.bool_)


def traced(*sounds: Samples) -> StemProducts:
    meter = StemProductsMeter(RATE_HZ, [sound.shape[0] for sound in sounds])
    meter.push(sounds)
    return meter.finish()


def mixed(gains: tuple[float, ...], extra: Samples | None = None) -> Samples:
    total = sum(np.float32(gain) * np.broadcast_to(part, (2, part.shape[1])) for gain, part in zip(gains, PARTS, strict=True))
    return np.asarray(total if extra is None else total + extra, np.float32)


def fitted(mix: Samples, bus_gain: float | None = None) -> alignment.Fit:
    return alignment.fit(traced(*PARTS, mix), ALL, bus_gain)


@pytest.mark.parametrize("gain", [1.0, 0.5, 2.0])
def test_a_common_gain(gain: float) -> None:
    fit = fitted(mixed((gain,) * 4))
    assert fit.common == pytest.approx(gain, rel=1e-4)
    assert fit.own == ()
    assert fit.residual.level_db < -100


def test_a_residual_is_that_of_the_waveforms_with_its_band_and_place() -> None:
    extra = tone_noise(400, 800, 9)
    extra[:, : RATE_HZ * 6] = 0.0
    mix = mixed((1.0,) * 4, extra)
    residual = fitted(mix).residual
    left = mix - found_sum(fitted(mix).gains)
    assert residual.level_db == pytest.approx(10 * np.log10(np.sum(left**2) / np.sum(mix**2)), abs=0.01)
    assert residual.band_hz is not None
    assert 300 < residual.band_hz[0] < 500
    assert 700 < residual.band_hz[1] < 1000
    assert residual.where is not None
    assert residual.where.start_s > 3.0
    assert residual.where.end_s == pytest.approx(12.0, abs=0.2)


def found_sum(gains: alignment.Floats) -> Samples:
    return mixed(tuple(float(gain) for gain in gains))


@pytest.mark.parametrize("change_db", [-4.0, 2.0])
def test_one_fader_that_differs(change_db: float) -> None:
    gain = signals.amplitude(change_db)
    fit = fitted(mixed((0.5, 0.5, 0.5 * gain, 0.5)))
    assert fit.own == (2,)
    assert fit.common == pytest.approx(0.5, rel=1e-3)
    assert alignment.gain_db(fit.gains[2] / fit.common) == pytest.approx(change_db, abs=0.01)
    assert fit.residual.level_db < -100


def test_a_given_bus_gain_is_kept() -> None:
    fit = fitted(mixed((0.5,) * 4), 0.4)
    assert fit.common == 0.4
    assert np.allclose(fit.gains[[number for number in range(4) if number not in fit.own]], 0.4)


def test_gains_stay_together_where_setting_them_free_explains_little() -> None:
    assert fitted(mixed((1.0, 1.05, 1.0, 0.97), tone_noise(40, 9000, 33))).own == ()


def test_unrelated_sounds_are_told_from_a_weak_part_of_the_mix() -> None:
    assert not alignment.related(traced(*PARTS, tone_noise(40, 9000, 77)), ALL)
    weak = traced(np.float32(0.02) * PARTS[3], np.asarray(mixed((1.0, 1.0, 1.0, 0.02)), np.float32))
    assert alignment.related(weak, np.ones(1, np.bool_))


def test_copies_and_twins() -> None:
    twin = PARTS[0].mean(axis=0, keepdims=True)
    wide_mono = np.repeat(PARTS[1], 2, axis=0)
    rounded = (np.round(PARTS[2] * 0.5 * 32768) / 32768).astype(np.float32)
    near = PARTS[3] + np.float32(0.01) * tone_noise(40, 9000, 12)
    names = ["a", "b", "c", "d", "a mono", "b wide", "c soft", "d near", "nothing"]
    copies = alignment.copies(traced(*PARTS, twin, wide_mono, rounded, near, np.zeros_like(twin)), names)
    assert copies == (None, None, None, None, 0, 1, 2, None, None)


def test_turned_over_is_no_copy() -> None:
    assert alignment.copies(traced(PARTS[0], -PARTS[0]), ["a", "b"]) == (None, None)


def test_sums_of_others() -> None:
    part = mixed((1.0, 1.0, 0.0, 0.0))
    louder = 2.0 * mixed((0.0, 1.0, 1.0, 1.0))
    sums = alignment.sums_of_others(traced(*PARTS, part, louder), np.ones(6, np.bool_))
    assert sums == {4: (0, 1), 5: (1, 2, 3)}
    assert alignment.sums_of_others(traced(*PARTS), ALL) == {}
    uneven = mixed((1.0, 0.3, 0.0, 0.0))  # an element of its own that only shares sources
    assert 4 not in alignment.sums_of_others(traced(*PARTS, uneven), np.ones(5, np.bool_))


def test_a_limited_mix_among_the_stems() -> None:
    limited = np.tanh(3.0 * mixed((1.0,) * 4)).astype(np.float32)
    assert alignment.whole_mix(traced(*PARTS, limited), np.ones(5, np.bool_)) == (4,)
    assert alignment.whole_mix(traced(*PARTS), ALL) == ()


@pytest.mark.parametrize(
    ("level_db", "words"),
    [
        (-90.0, "sum exactly to your mix"), (-38.0, "differs from your mix by -38 dB: an effect on the mix bus"),
        (-12.0, "differs from your mix by -12 dB: something is missing from 300 Hz to 5 kHz, most of it between 0:30 and 1:10"),
        (-0.2, "differs from your mix by 0 dB"),
    ],
)  # fmt: skip
def test_meanings(level_db: float, words: str) -> None:
    assert words in alignment.meaning(alignment.Residual(level_db, (302.0, 5010.0), Span(30.0, 70.0)))


def test_the_cut_into_blocks_and_the_channels_do_not_matter() -> None:
    mix = mixed((1.0, 1.0, 0.6, 1.0), tone_noise(40, 9000, 5) * np.float32(0.1))
    sounds = (*PARTS, mix)
    meter = StemProductsMeter(RATE_HZ, [sound.shape[0] for sound in sounds])
    for start in range(0, mix.shape[1], 5000):
        meter.push([sound[:, start : start + 5000] for sound in sounds])
    assert alignment.fit(meter.finish(), ALL).gains == pytest.approx(alignment.fit(traced(*sounds), ALL).gains, rel=1e-12)
    swapped = alignment.fit(traced(*(sound[::-1].copy() for sound in sounds)), ALL)
    assert swapped.gains == pytest.approx(alignment.fit(traced(*sounds), ALL).gains, rel=1e-6)


def test_next_to_nothing() -> None:
    trace = traced(np.zeros((1, 1), np.float32), np.zeros((2, 1), np.float32))
    used = np.ones(1, np.bool_)
    assert alignment.fit(trace, used).residual.level_db == alignment.FLOOR_DB
    assert alignment.silent_stems(trace, 1).all()
    assert alignment.related(trace, used)
