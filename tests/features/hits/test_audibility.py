"""Hits, and how much of each stays audible."""

from itertools import pairwise

import numpy as np
import pytest

from features.hits.audibility import HitMeter, HitTrace, audible_share_from_stems, measure_hits, worst_windows
from features.records.hits import Hits
from features.sound.signal import Samples, Signal
from tests import signals

RATE = 44100
DURATION = 16.0


def trace_of(samples: Samples, rate_hz: int = RATE, block: int = 1 << 17) -> HitTrace:
    meter = HitMeter(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], block):
        meter.push(samples[:, start : start + block])
    return meter.finish()


def hits_of(samples: Samples, rate_hz: int = RATE) -> Hits:
    return measure_hits(trace_of(samples, rate_hz))


def bed(rms_dbfs: float, rate_hz: int = RATE, duration: float = DURATION) -> Samples:
    """Noise and a chord that sound throughout."""
    chord = signals.chord_wave(duration, rate_hz)
    level = signals.amplitude(rms_dbfs) / float(np.sqrt(np.mean(chord**2)))
    return signals.pink(duration, rate_hz, rms_dbfs - 3.0) + signals.stereo(0.7 * level * chord)


def test_drums_alone_are_heard_whole() -> None:
    hits = hits_of(signals.drums(DURATION, RATE))
    assert hits.audible_share_median is not None
    assert hits.audible_share_median > 0.95
    assert hits.buried_share == pytest.approx(0.0, abs=0.05)
    assert hits.percussive_share is not None
    assert hits.percussive_share > 0.6


def test_everything_else_louder_hides_more_of_the_hits_from_step_to_step() -> None:
    """As long as all hits are found: one that is buried altogether drops out of the count, from the mix alone."""
    by_level = [hits_of(signals.drums(DURATION, RATE) + bed(rest_db)) for rest_db in (-42.0, -39.0, -36.0, -33.0, -30.0)]
    shares = [hits.audible_share_median or 0.0 for hits in by_level]
    assert all(louder < softer for softer, louder in pairwise(shares))
    assert shares[0] - shares[-1] > 0.07
    assert {hits.count for hits in by_level} <= {62, 63, 64}


def test_the_share_from_stems_falls_with_the_rest_too() -> None:
    drums = Signal(signals.drums(DURATION, RATE), RATE)
    shares = [float(np.median(audible_share_from_stems(drums, Signal(bed(level), RATE))[1])) for level in (-46.0, -36.0, -26.0, -16.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.9
    assert shares[-1] < 0.4


@pytest.mark.parametrize("rest_db", [-46.0, -36.0])
def test_mix_alone_agrees_with_the_stems(rest_db: float) -> None:
    drums, rest = signals.drums(DURATION, RATE), bed(rest_db)
    truth = float(np.median(audible_share_from_stems(Signal(drums, RATE), Signal(rest, RATE))[1]))
    assert hits_of(drums + rest).audible_share_median == pytest.approx(truth, abs=0.12)


def test_stems_of_different_rate_or_length() -> None:
    drums = signals.drums(4.0, RATE)
    with pytest.raises(ValueError, match="44100 and 48000"):
        audible_share_from_stems(Signal(drums, RATE), Signal(drums, 48000))
    times, shares = audible_share_from_stems(Signal(drums, RATE), Signal(signals.silence(1.0, RATE, 1), RATE))
    assert len(times) == len(shares) > 8
    assert shares.min() > 0.8


def test_playback_level_plays_no_role() -> None:
    samples = signals.drums(DURATION, RATE) + bed(-30.0)
    full, quiet = hits_of(samples), hits_of(samples * np.float32(0.5))
    assert quiet.times_s == full.times_s
    assert quiet.audible_share == pytest.approx(full.audible_share, abs=1e-3)
    assert quiet.masking_band_share == pytest.approx(full.masking_band_share, abs=1e-3)
    assert [band.count for band in quiet.bands] == [band.count for band in full.bands]


def test_blocks_and_channel_order_do_not_matter() -> None:
    samples = np.tile(signals.drums(8.0, RATE) + bed(-30.0, duration=8.0), (1, 8))  # 64 s: more than one chunk
    whole, pieces, swapped = trace_of(samples), trace_of(samples, block=30011), trace_of(samples[::-1])
    assert np.array_equal(whole.times_s, pieces.times_s)
    assert np.array_equal(whole.audible, pieces.audible)
    assert np.array_equal(whole.high_sustained, pieces.high_sustained)
    assert swapped.shares() == pytest.approx(whole.shares(), abs=1e-4)
    assert len(whole.strength_db) == len(whole.low_whole) == len(whole.high_sustained) == -(-samples.shape[1] // 256)


def test_a_chunk_edge_changes_nothing() -> None:
    """The same 8 s beside the edge at 8192 frames (47.6 s) and away from it."""
    samples = np.tile(signals.drums(8.0, RATE) + bed(-30.0, duration=8.0), (1, 8))
    trace = trace_of(samples)
    edge_s = 8192 * trace.hop_s
    shares = trace.shares()
    beside = shares[np.abs(trace.times_s - edge_s) < 1.5]
    before = shares[np.abs(trace.times_s - (edge_s - 16.0)) < 1.5]
    assert len(beside) == len(before)
    assert beside == pytest.approx(before, abs=0.06)


@pytest.mark.parametrize("rate_hz", [48000, 96000])
def test_sampling_rate_does_not_matter(rate_hz: int) -> None:
    def median(rate: int) -> float:
        kick = signals.placed(signals.kick_wave(rate), signals.beat_times(DURATION), DURATION, rate)
        return hits_of(signals.stereo(kick + 0.05 * signals.chord_wave(DURATION, rate)), rate).audible_share_median or 0.0

    assert median(rate_hz) == pytest.approx(median(44100), abs=0.05)


def test_the_masking_band_is_where_the_noise_is() -> None:
    noise = signals.stereo(signals.pink_wave(DURATION, RATE, -22.0, low_hz=2000.0, high_hz=6000.0))
    hits = hits_of(signals.drums(DURATION, RATE) + noise)
    assert hits.masking_band_hz == (2000.0, 6000.0)
    assert hits.masking_band_share is not None
    assert hits.masking_band_share > 0.5


def test_the_worst_stretch_is_the_noisy_one() -> None:
    samples = signals.drums(40.0, RATE)
    samples[:, 24 * RATE : 32 * RATE] += signals.pink(8.0, RATE, -18.0)
    worst = hits_of(samples).worst
    assert worst[0].start_s == pytest.approx(24.0, abs=2.1)
    assert worst[0].value < worst[-1].value


def test_hits_of_a_band_are_counted_there() -> None:
    hats = signals.placed(signals.hat_wave(RATE), signals.beat_times(8.0, 240.0), 8.0, RATE)
    hits = hits_of(signals.stereo(hats + signals.pink_wave(8.0, RATE, -70.0)))
    assert hits.bands[-1].count >= 30
    assert hits.bands[0].count <= 10
    assert hits.bands[-1].lift_db_median is not None
    assert hits.bands[-1].lift_db_median > 15.0


def test_windows_need_four_hits_and_do_not_overlap() -> None:
    assert worst_windows(np.array([0.0, 1.0, 2.0]), np.zeros(3)) == ()
    moments = worst_windows(np.arange(60.0), np.linspace(0, 1, 60))
    starts = sorted(moment.start_s for moment in moments)
    assert np.diff(starts).min() >= 8.0
    assert moments[0].start_s == 0.0


@pytest.mark.parametrize("samples", [signals.silence(3.0, RATE), signals.silence(3.0, RATE, 1), np.zeros((2, 0), np.float32)])
def test_nothing_at_all(samples: Samples) -> None:
    hits = hits_of(samples)
    assert hits.count == 0
    assert hits.audible_share_median is None
    names = {absence.field for absence in hits.absent}
    assert names == {"audible_share_median", "buried_share", "masking_band_hz", "masking_band_share", "percussive_share", "tempo_bpm"}
    assert not np.any(trace_of(samples).parts.percussive)


@pytest.mark.parametrize("samples", [np.full((1, 1), 0.5, np.float32), signals.drums(0.2, 8000), 4 * signals.drums(3.0, RATE)])
def test_odd_sounds_give_finite_numbers(samples: Samples) -> None:
    hits = hits_of(samples)
    numbers = [*hits.times_s, *hits.audible_share, hits.percussive_share or 0.0]
    assert np.all(np.isfinite(numbers))
    assert all(0.0 <= share <= 1.0 for share in hits.audible_share)


def test_parts_hold_the_song_s_power() -> None:
    parts = trace_of(signals.white(4.0, RATE, -20.0)).parts
    assert len(parts.band_hz) == len(parts.percussive) == 31
    covered = (22050 - 17.8) / 22050
    assert 10 * np.log10((parts.percussive + parts.sustained).sum() / covered) == pytest.approx(-20.0, abs=0.1)
