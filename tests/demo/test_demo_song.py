"""The demo song: complete stems, planted faults that are really there, and the same bytes from the same seed.

Most tests play the song with two bars a section. Values are truths by construction (what was planted must be found)
unless another source is named.
"""

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy.signal import butter as butterworth
from scipy.signal import resample_poly, sosfiltfilt, welch

from demo import arrangement, mastering, mixdown, references, write
from demo.filters import bell, cut, filtered, reverberant, shelf, swept
from demo.plan import chord_of, key_number, melody, steps
from demo.song import HARBOUR
from demo.tones import RATE_HZ, frames_of, noise, oscillator
from features.sound.signal import Samples, Signal

SHORT = HARBOUR.shortened(2)
DRUMS = ("kick", "snare", "hats", "percussion")


@pytest.fixture(scope="module")
def stems() -> dict[str, Signal]:
    return arrangement.make_song(1, SHORT)


@pytest.fixture(scope="module")
def faulty(stems: dict[str, Signal]) -> dict[str, Samples]:
    """Return the stems of bounce A with its master fader taken off, to be compared with the clean ones."""
    fader = np.float32(10.0 ** (-mixdown.MASTER_FADER_DB["a"] / 20.0))
    return {name: fader * mixdown.with_faults(name, signal.samples, "a", SHORT) for name, signal in stems.items()}


def balanced(samples: Samples) -> Samples:
    """Take the planted imbalance out, so that one fault is measured at a time."""
    half_db = mixdown.planted("left_heavy").in_a / 2.0
    return samples * np.array([[10 ** (-half_db / 20.0)], [10 ** (half_db / 20.0)]], dtype=np.float32)


def level_db(samples: Samples) -> float:
    return float(10.0 * np.log10(np.mean(samples.astype(np.float64) ** 2) + 1e-20))


def band_db(samples: Samples, low_hz: float, high_hz: float) -> float:
    frequency, power = welch(samples.astype(np.float64), RATE_HZ, nperseg=8192)
    inside = (frequency >= low_hz) & (frequency < high_hz)
    return float(10.0 * np.log10(power[:, inside].mean() + 1e-20))


def lows(samples: Samples) -> Samples:
    return np.asarray(sosfiltfilt(butterworth(4, 110.0, fs=RATE_HZ, output="sos"), samples.astype(np.float64)), dtype=np.float32)


def loudness_lufs(samples: Samples) -> float:
    return float(pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples.T.astype(np.float64)))


def test_the_song_has_eight_stems_or_more_and_each_of_them_sounds(stems: dict[str, Signal]) -> None:
    assert set(stems) >= {"kick", "snare", "hats", "bass", "chords", "lead", "pad", "effects", "voice"}
    for signal in stems.values():
        assert signal.rate_hz == 44_100
        assert signal.samples.shape == (2, frames_of(SHORT.duration_s))
        assert signal.samples.dtype == np.float32
        assert np.isfinite(signal.samples).all()
        assert level_db(signal.samples) > -60.0


def test_the_whole_song_lasts_about_ninety_seconds_and_has_its_parts() -> None:
    assert 80.0 < HARBOUR.duration_s < 100.0
    assert {"intro", "verse", "chorus", "break", "outro"} <= {section.name for section in HARBOUR.sections}


def test_the_stems_sum_to_the_clean_mix_and_the_faulty_stems_to_the_bounce(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    clean = np.sum([signal.samples.astype(np.float64) for signal in stems.values()], axis=0)
    assert np.abs(mixdown.mix_clean(stems).samples - clean).max() < 1e-6
    bounce = mixdown.mix_bounce_a(stems, SHORT).samples * 10.0 ** (-mixdown.MASTER_FADER_DB["a"] / 20.0)
    assert np.abs(bounce - np.sum(list(faulty.values()), axis=0)).max() < 1e-5


def test_nothing_is_clipped_and_the_ends_are_quiet(stems: dict[str, Signal]) -> None:
    for mix in (mixdown.mix_clean(stems), mixdown.mix_bounce_a(stems, SHORT), mixdown.mix_bounce_b(stems, SHORT)):
        peak_db = 20.0 * np.log10(np.abs(mix.samples).max())
        assert -8.0 < peak_db < -1.0
        assert np.abs(mix.samples[:, :100]).max() < 1e-3
        assert np.abs(mix.samples[:, -100:]).max() < 1e-4


def test_the_same_seed_gives_the_same_song_and_another_seed_another(stems: dict[str, Signal]) -> None:
    for name in ("snare", "voice"):
        assert np.array_equal(arrangement.make_stem(SHORT, name, 1), stems[name].samples)
        assert not np.array_equal(arrangement.make_stem(SHORT, name, 2), stems[name].samples)


def test_sections_differ_in_loudness(stems: dict[str, Signal]) -> None:
    mix = mixdown.mix_clean(stems).samples
    starts = [frames_of(start_s) for start_s in SHORT.starts_s()]
    by_name = {
        section.name: loudness_lufs(mix[:, start:end]) for section, start, end in zip(SHORT.sections, starts[:-1], starts[1:], strict=True)
    }
    assert by_name["chorus"] > by_name["verse"] + 1.0
    assert by_name["verse"] > by_name["intro"] + 2.0
    assert by_name["last chorus"] > by_name["break"] + 1.0
    assert by_name["chorus"] > by_name["outro"] + 2.0


def test_the_clean_mix_is_an_ordinary_mix(stems: dict[str, Signal]) -> None:
    """Ordinary is what finished songs were found to have: a tilt of -4.3 to -7.2 dB per octave (our own survey of finished songs)."""
    mix = mixdown.mix_clean(stems).samples
    frequency, power = welch(mix.astype(np.float64), RATE_HZ, nperseg=16_384)
    centres = 1000.0 * 2.0 ** (np.arange(-10, 11) / 3.0)
    density_db = [
        10.0 * np.log10(power.sum(axis=0)[(frequency >= c * 2 ** (-1 / 6)) & (frequency < c * 2 ** (1 / 6))].mean()) for c in centres
    ]
    assert -7.2 < np.polyfit(np.log2(centres), density_db, 1)[0] < -4.3
    assert float(np.mean(mix[0] * mix[1]) / np.sqrt(np.mean(mix[0] ** 2) * np.mean(mix[1] ** 2))) > 0.3
    assert abs(level_db(mix[:1]) - level_db(mix[1:])) < 0.5
    assert 11.0 < 20.0 * np.log10(np.abs(mix).max()) - loudness_lufs(mix) < 16.0


@pytest.mark.parametrize("stem", ["chords", "pad"])
def test_planted_low_mids(stems: dict[str, Signal], faulty: dict[str, Samples], stem: str) -> None:
    fault = mixdown.planted("low_mids")
    after, before = balanced(faulty[stem]), stems[stem].samples
    assert band_db(after, 255.0, 285.0) - band_db(before, 255.0, 285.0) == pytest.approx(fault.in_a, abs=0.2)
    assert band_db(after, 3000.0, 5000.0) - band_db(before, 3000.0, 5000.0) == pytest.approx(0.0, abs=0.2)


def test_planted_quiet_drums(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    for stem in DRUMS:
        before = stems[stem].samples
        loud = np.abs(before) > 0.01
        change_db = 20.0 * np.log10(np.median(balanced(faulty[stem])[loud] / before[loud]))  # the median leaves the stray hits out
        assert change_db == pytest.approx(mixdown.planted("quiet_drums").in_a, abs=0.05)


def test_planted_wide_bass(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    def side_db(samples: Samples) -> float:
        low = lows(samples)
        return level_db(low[0] - low[1]) - level_db(low[0] + low[1])

    assert side_db(stems["bass"].samples) < -80.0
    assert side_db(balanced(faulty["bass"])) == pytest.approx(mixdown.planted("wide_bass").in_a, abs=2.5)


def test_planted_loud_sub(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    def middle_db(samples: Samples) -> float:
        return band_db(0.5 * (samples[:1] + samples[1:]), 35.0, 50.0) - band_db(0.5 * (samples[:1] + samples[1:]), 400.0, 800.0)

    assert middle_db(faulty["bass"]) - middle_db(stems["bass"].samples) == pytest.approx(mixdown.planted("loud_sub").in_a, abs=1.0)


def test_planted_stray_hits(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    assert sum(len(times) for times in mixdown.stray_times_s().values()) == 6
    fault, quiet = mixdown.planted("stray_hits"), mixdown.planted("quiet_drums")
    times = mixdown.stray_times_s(SHORT)
    assert sum(len(at) for at in times.values()) >= 4
    for stem, at in times.items():
        for time_s in at:
            span = slice(frames_of(time_s - 0.01), frames_of(time_s + 0.1))
            rise_db = level_db(faulty[stem][:, span]) - level_db(stems[stem].samples[:, span])
            assert rise_db == pytest.approx(fault.in_a + quiet.in_a, abs=0.8)


def test_planted_imbalance(stems: dict[str, Signal], faulty: dict[str, Samples]) -> None:
    for stem in ("voice", "kick", "lead"):
        before = level_db(stems[stem].samples[:1]) - level_db(stems[stem].samples[1:])
        after = level_db(faulty[stem][:1]) - level_db(faulty[stem][1:])
        assert after - before == pytest.approx(mixdown.planted("left_heavy").in_a, abs=0.05)


def test_bounce_b_lies_nearer_to_the_clean_mix_in_every_fault(stems: dict[str, Signal]) -> None:
    for fault in mixdown.PLANTED:
        assert abs(fault.in_b) < abs(fault.in_a) or fault.name == "wide_bass"
    assert mixdown.planted("wide_bass").in_b < -50.0
    clean = mixdown.mix_clean(stems).samples
    errors = []
    for name, mix in (("a", mixdown.mix_bounce_a(stems, SHORT)), ("b", mixdown.mix_bounce_b(stems, SHORT))):
        errors.append(level_db(mix.samples * np.float32(10.0 ** (-mixdown.MASTER_FADER_DB[name] / 20.0)) - clean))
    assert errors[1] < errors[0] - 8.0


def test_six_records_differ_and_one_of_them_is_finished() -> None:
    """True peak by eight-fold oversampling of another library, loudness by another library."""
    plans = [plan for plan, _ in references.RECORDS]
    assert len({references.file_name(plan) for plan in plans} | {references.file_name(HARBOUR)}) == 7
    assert len({plan.tempo_bpm for plan in plans}) == 6
    assert all(-13.0 <= finish.target_lufs <= -11.0 for _, finish in references.RECORDS)
    assert all(35.0 < plan.duration_s < 60.0 for plan in plans)
    plan, finish = references.RECORDS[2]
    record = references.make_reference(plan.shortened(2), finish, 1)
    assert loudness_lufs(record.samples) == pytest.approx(finish.target_lufs, abs=1.0)
    assert 20.0 * np.log10(np.abs(resample_poly(record.samples, 8, 1, axis=1)).max()) < -1.0


def test_the_limiter_holds_its_ceiling_on_peaks_between_samples() -> None:
    tone = 1.5 * np.sin(np.pi / 2.0 * np.arange(20_000) + np.pi / 4.0)  # peaks fall between the samples
    loud = np.stack([tone, -0.5 * tone]).astype(np.float32) * np.hanning(20_000).astype(np.float32)
    output = mastering.limited(loud, -3.0)
    true_peak_db = 20.0 * np.log10(np.abs(resample_poly(output, 8, 1, axis=1)).max())
    assert true_peak_db == pytest.approx(-3.0, abs=0.35)
    assert np.allclose(output[1], -0.5 * output[0], atol=1e-6)


def test_the_demo_is_written_and_read_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "make_references", lambda seed: iter([(f"record {seed}", Signal(np.zeros((2, 400), np.float32), RATE_HZ))]))
    messages: list[str] = []
    short = HARBOUR.shortened(1)
    paths = write.write_demo(tmp_path, messages.append, 1, short)
    assert len(messages) == len(arrangement.STEM_NAMES) + 1
    for bounce, folder in ((paths.bounce_a, paths.stems), (paths.bounce_b, paths.stems_b)):
        assert soundfile.info(bounce).subtype == "PCM_24"
        files = sorted(folder.glob("*.wav"))
        assert [file.stem for file in files] == sorted(arrangement.STEM_NAMES)
        total = sum(soundfile.read(file)[0] for file in files)
        assert np.abs(total - soundfile.read(bounce)[0]).max() < 12 * 2.0**-23  # ten files rounded to 24 bits
    assert [file.name for file in paths.references.iterdir()] == ["record 1.flac"]


def test_a_file_that_would_clip_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="would clip"):
        write._write(tmp_path / "loud.wav", np.ones((2, 10), dtype=np.float32))


def test_chords_and_notes_are_read_as_musicians_write_them() -> None:
    assert key_number("A4") == 69
    assert key_number("Bb3") == 58
    assert {tone % 12 for tone in chord_of("Dm9", 0).tones} == {2, 5, 9, 0, 4}
    assert chord_of("C/E", 0).bass % 12 == 4
    assert {tone % 12 for tone in chord_of("F#m7", -3).tones} == {3, 6, 10, 1}
    assert all(31 <= chord_of(name, 0).bass < 43 for name in ("G", "F#", "Bb", "C/E"))


def test_patterns_fall_on_the_beat_and_melodies_fill_their_sections() -> None:
    verse = HARBOUR.sections[1]
    start_s = HARBOUR.starts_s()[1]
    kicks = [hit for hit in steps(HARBOUR, "kick") if hit.section is verse]
    assert kicks[0].time_s == pytest.approx(start_s)
    assert kicks[1].time_s == pytest.approx(start_s + 1.5 * HARBOUR.beat_s)
    for part in ("voice", "lead"):
        for note in melody(HARBOUR, part):
            index = HARBOUR.sections.index(note.section)
            assert HARBOUR.starts_s()[index] - 1e-9 <= note.time_s < HARBOUR.starts_s()[index + 1]


def test_filters_do_what_their_names_say() -> None:
    """Gains by the definition of each filter: a bell has its gain at its centre, a cut -3.01 dB at its edge."""
    tone = np.stack([oscillator("sine", 1000.0, RATE_HZ)] * 2)
    steady = slice(RATE_HZ // 2, None)

    def gain_db(result: Samples) -> float:
        return level_db(result[:, steady]) - level_db(tone[:, steady])

    assert gain_db(filtered(tone, bell(1000.0, 6.0, 1.0))) == pytest.approx(6.0, abs=0.05)
    assert gain_db(filtered(tone, cut(1000.0, low=True))) == pytest.approx(-3.01, abs=0.05)
    assert gain_db(filtered(tone, cut(1000.0, low=False))) == pytest.approx(-3.01, abs=0.05)
    assert gain_db(filtered(tone, shelf(60.0, 6.0, low=False))) == pytest.approx(6.0, abs=0.1)
    assert gain_db(filtered(tone, shelf(60.0, 6.0, low=True))) == pytest.approx(0.0, abs=0.1)
    constant = np.full(RATE_HZ // 96 + 1, 1000.0, dtype=np.float32)
    assert np.allclose(swept(tone, constant, 0.7071), filtered(tone, cut(1000.0, low=False)), atol=1e-4)


def test_the_room_is_a_plain_convolution() -> None:
    rng = np.random.default_rng(3)
    sound = np.stack([noise(rng, 150_000)] * 2)
    response = np.zeros((2, 5000), dtype=np.float32)
    response[0, 4000], response[1, 10] = 1.0, 0.5
    wet = reverberant(sound, response, 0.0, 100.0) - sound
    assert np.allclose(wet[0, 4000:], 2.0 * wet[1, 10 : 10 + 146_000], atol=1e-4)
