"""The headline readings: closed forms, what must not move them, and what limiting does."""

import math
from dataclasses import astuple, replace

import numpy as np
import pytest

from features.loudness.crest import CrestTrace
from features.loudness.level import LevelMeter, LevelTrace, measure_level
from features.records.base import Absence, Span
from features.records.headline import FEATURES, Headline
from features.song.headline import (
    HIGHEST_LIFT_DB,
    NARROWEST_DB,
    DenseStretch,
    crest_balance_db,
    crest_trace_of,
    limited_crest_balance,
    measure_headline,
    read_dense_stretch,
    stretch_of,
)
from features.song.sections import measure_sections
from features.sound.signal import Signal
from features.sound.spectrogram import SpectrogramMeter
from features.tone.ear import measure_ear
from features.tone.spectrum import measure_spectrum
from tests import records, signals
from tests.reference_shelf import RATE_HZ, beat


def level_trace(sound: Signal, block: int = 1 << 17) -> LevelTrace:
    meter = LevelMeter(sound.rate_hz, sound.channels)
    for block_of_samples in sound.blocks(block):
        meter.push(block_of_samples)
    return meter.finish()


def headline(sound: Signal) -> Headline:
    level = level_trace(sound)
    meter = SpectrogramMeter(sound.rate_hz, sound.channels)
    meter.push(sound.samples)
    spectrogram = meter.finish()
    sections = measure_sections(level, spectrogram)
    return measure_headline(
        measure_spectrum(spectrogram), measure_ear(spectrogram), measure_level(level, sections), level, read_dense_stretch(sound, sections)
    )


def readings(measured: Headline) -> list[float]:
    return [getattr(measured, feature.name) for feature in FEATURES]


SONG = Signal(beat(1), RATE_HZ)


def from_spectrum(**changes: object) -> Headline:
    trace = level_trace(signals.signal(signals.sine(1000.0, 2.0)))
    empty = CrestTrace(np.zeros((10, 0), np.float32), np.zeros((10, 0), np.float32))
    return measure_headline(records.spectrum(**changes), records.ear(), records.level(), trace, DenseStretch(Span(0.0, 2.0), empty, ()))


def test_bass_is_the_power_of_seven_thirds_over_fifteen() -> None:
    # pink noise has the same power in every third octave: 40-160 Hz hold 7, 200 Hz-5 kHz hold 15
    pink = tuple(-10 * math.log10(hz) for hz in records.BANDS_HZ)
    assert from_spectrum(third_octave_db=pink).bass_db == pytest.approx(10 * math.log10(7 / 15), abs=0.01)


def test_width_is_side_over_mid_and_ends_at_its_floor() -> None:
    mid = tuple(0.0 for _ in records.BANDS_HZ)
    wide = from_spectrum(mid_db=mid, side_db=tuple(-9.0 for _ in mid))
    assert wide.width_db == pytest.approx(-9.0)
    assert wide.low_width_db == pytest.approx(-9.0)
    narrow = from_spectrum(mid_db=mid, side_db=tuple(-80.0 for _ in mid))
    assert (narrow.width_db, narrow.low_width_db) == (NARROWEST_DB, NARROWEST_DB)


def test_mono_has_no_width_and_says_so() -> None:
    measured = headline(Signal(SONG.samples[:1].copy(), RATE_HZ))
    assert (measured.width_db, measured.low_width_db) == (None, None)
    assert Absence("width_db", "the file is mono") in measured.absent
    assert measured.psr_db is not None


def test_without_hits_there_is_no_lift() -> None:
    measured = headline(signals.signal(signals.sine(440.0, 12.0, peak_dbfs=-12.0)))
    assert measured.hit_lift_db is None
    assert any(absence.field == "hit_lift_db" and "hits" in absence.reason for absence in measured.absent)


def test_silence_has_no_reading_but_reasons() -> None:
    measured = headline(signals.signal(signals.silence(3.0)))
    assert {absence.field for absence in measured.absent} == {feature.name for feature in FEATURES}
    assert {absence.reason for absence in measured.absent} == {"the song is silent"}


def test_lift_of_bursts_over_a_bed_is_their_ratio() -> None:
    rate, beats = 48000, 20
    wave = signals.sine_wave(1000.0, 10.0, rate, -40.0)
    loud = signals.sine_wave(1000.0, 10.0, rate, -32.0)
    inside = np.mod(np.arange(wave.size) / rate, 0.5) < 0.1
    trace = level_trace(signals.signal(signals.stereo(np.where(inside, loud, wave)), rate))
    empty = CrestTrace(np.zeros((10, 0), np.float32), np.zeros((10, 0), np.float32))
    times_s = tuple(0.5 * number + 0.0001 for number in range(1, beats))
    measured = measure_headline(records.spectrum(), records.ear(), records.level(), trace, DenseStretch(Span(0.0, 10.0), empty, times_s))
    assert measured.hit_lift_db == pytest.approx(8.0, abs=0.2)


def test_a_hit_out_of_silence_counts_as_standing_alone() -> None:
    rate = 48000
    inside = np.mod(np.arange(10 * rate) / rate, 0.5) < 0.1
    trace = level_trace(signals.signal(signals.stereo(np.where(inside, signals.sine_wave(1000.0, 10.0, rate, -20.0), 0.0)), rate))
    empty = CrestTrace(np.zeros((10, 0), np.float32), np.zeros((10, 0), np.float32))
    times_s = tuple(0.5 * number + 0.0001 for number in range(1, 20))
    measured = measure_headline(records.spectrum(), records.ear(), records.level(), trace, DenseStretch(Span(0.0, 10.0), empty, times_s))
    assert measured.hit_lift_db == HIGHEST_LIFT_DB


@pytest.mark.parametrize("gain_db", [-18.0, 6.0])
def test_gain_moves_nothing(gain_db: float) -> None:
    louder = Signal(SONG.samples * np.float32(signals.amplitude(gain_db)), RATE_HZ)
    for before, after, feature in zip(readings(headline(SONG)), readings(headline(louder)), FEATURES, strict=True):
        assert abs(after - before) < 0.25 * feature.step


def test_swapping_the_channels_moves_nothing() -> None:
    swapped = Signal(np.ascontiguousarray(SONG.samples[::-1]), RATE_HZ)
    assert readings(headline(swapped)) == pytest.approx(readings(headline(SONG)), abs=1e-3)


def test_a_stretch_of_the_songs_crest_is_that_of_the_stretch_alone() -> None:
    whole = stretch_of(crest_trace_of(SONG), Span(3.0, 9.0))
    alone = crest_trace_of(Signal(SONG.samples[:, 3 * RATE_HZ : 9 * RATE_HZ], RATE_HZ))
    assert crest_balance_db(whole) == pytest.approx(crest_balance_db(alone), abs=0.3)


def test_limiting_lowers_the_balance_of_crests_or_leaves_it() -> None:
    untouched = limited_crest_balance(SONG, 10.0)
    assert untouched == pytest.approx(crest_balance_db(crest_trace_of(SONG)), abs=1e-6)
    limited = limited_crest_balance(SONG, 0.1)
    assert limited is not None
    assert untouched is not None
    assert limited != pytest.approx(untouched, abs=0.2)


def test_each_reading_has_its_words_and_a_step() -> None:
    names = [feature.name for feature in FEATURES]
    assert names == [name for name in Headline.__dataclass_fields__ if name != "absent"]
    assert len(names) <= 8
    assert all(feature.step > 0 and feature.more != feature.less for feature in FEATURES)
    assert len(astuple(replace(headline(SONG), absent=()))) == len(names) + 1
