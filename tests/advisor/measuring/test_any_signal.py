"""Every measurement of any signal: finite, or absent with its reason; and what must not depend on level, sides, padding or blocks."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from math import isfinite

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.measuring.measure import WHOLE_SONG, measure
from features.records.base import Measurement, readings_of
from features.records.level import Level
from features.records.outlook import Outlook
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.load import LOUDEST
from features.sound.signal import Samples, Signal
from tests import records

RATES_HZ = (8000, 11025, 22050, 44100, 48000, 96000, 192000)
MOST_FRAMES = 60_000
YARDSTICK = yardstick_of(Settings())
Records = Mapping[type[Measurement], Measurement]
SHAPES = ("silence", "constant", "one sample", "noise", "sine", "square", "clicks", "gaps", "smallest", "alternating", "loudest")
SIDES = ("same", "opposite", "left alone", "apart")


def bounded(examples: int) -> settings:
    """Return how often a test is tried; always the same, and never against a clock."""
    return settings(max_examples=examples, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a signal is made from; a small one prints as a small one."""

    shape: str
    sides: str
    channels: int
    rate_hz: int
    frames: int
    level_db: float
    seed: int

    def wave(self, seed: int) -> Samples:
        """Return one channel."""
        time = np.arange(self.frames)
        noise = np.random.default_rng(seed)
        white = noise.standard_normal(self.frames)
        made = {
            "silence": np.zeros(self.frames),
            "constant": np.ones(self.frames),
            "one sample": np.eye(1, self.frames, seed % max(self.frames, 1))[0],
            "noise": 0.3 * white,
            "sine": np.sin(time * (0.001 + seed % 97 / 31)),
            "square": np.sign(np.sin(time * 0.05)),
            "clicks": np.where(time % 4410 == seed % 4410, 1.0, 0.0),
            "gaps": np.where(time // 5000 % 2 == 0, 0.3 * white, 0.0),
            "smallest": np.full(self.frames, 1e-42),
            "alternating": 1.0 - 2.0 * (time % 2),
            "loudest": np.sign(white) * LOUDEST,
        }
        return np.asarray(made[self.shape], np.float32)

    def samples(self) -> Samples:
        """Return the sound, planar."""
        gain = np.float32(10.0 ** (self.level_db / 20.0))
        left = np.clip(self.wave(self.seed) * gain, -LOUDEST, LOUDEST)
        if self.channels == 1:
            return np.array(left[np.newaxis], np.float32)
        other = np.clip(self.wave(self.seed + 1) * gain, -LOUDEST, LOUDEST)
        right = {"same": left, "opposite": -left, "left alone": 0.0 * left, "apart": other}[self.sides]
        return np.ascontiguousarray(np.stack([left, right]), np.float32)

    def signal(self) -> Signal:
        """Return the sound with its rate."""
        return Signal(self.samples(), self.rate_hz)


def recipes(*shapes: str, low_db: float = -140.0, high_db: float = 24.0, least: int = 1) -> st.SearchStrategy[Recipe]:
    return st.builds(
        Recipe, st.sampled_from(shapes or SHAPES), st.sampled_from(SIDES), st.sampled_from((1, 2)), st.sampled_from(RATES_HZ),
        st.integers(least, MOST_FRAMES), st.floats(low_db, high_db, width=32), st.integers(0, 1000),
    )  # fmt: skip


class Cut(Signal):
    """A sound that comes in blocks of a size of its own."""

    SIZE = 4999

    def blocks(self, size: int = SIZE) -> Iterator[Samples]:
        """Yield the whole in small blocks, whatever is asked for."""
        del size
        yield from super().blocks(self.SIZE)


def measured(source: Signal, *wanted: type[Measurement]) -> Records:
    file = records.file(duration_s=source.frames / source.rate_hz, rate_hz=source.rate_hz, channels=source.channels)
    made = measure(source, file, lambda: 0, YARDSTICK, Quiet(), wanted or (*WHOLE_SONG, Outlook))
    assert made.failures == ()
    return made.records


def numbers(value: object) -> Iterator[float]:
    """Yield every number in a record, however deep."""
    if isinstance(value, float):
        yield value
    elif isinstance(value, tuple | list):
        for part in value:
            yield from numbers(part)
    elif is_dataclass(value):
        for field in fields(value):
            yield from numbers(getattr(value, field.name))


def is_sound(record: Measurement) -> None:
    """Check that a record holds finite numbers, and a reason for each it lacks."""
    assert all(isfinite(number) for number in numbers(record)), record
    known = readings_of(type(record))
    missing = {name for name, reading in known.items() if getattr(record, name) is None and "None when" not in reading.meaning}
    assert missing <= {absence.field for absence in record.absent}, type(record).__name__
    assert all(absence.reason for absence in record.absent)


@bounded(40)
@given(recipes())
def test_every_record_is_finite_or_says_why_not(recipe: Recipe) -> None:
    made = measured(recipe.signal())
    assert {*WHOLE_SONG, Outlook} <= made.keys()
    for record in made.values():
        is_sound(record)


def close(first: object, second: object) -> bool:
    mine, theirs = list(numbers(first)), list(numbers(second))
    return len(mine) == len(theirs) and np.allclose(mine, theirs, rtol=1e-5, atol=1e-4)


@bounded(12)
@given(recipes("noise", "gaps", "sine", "clicks", low_db=-60.0, high_db=6.0))
def test_how_the_song_is_cut_into_blocks_changes_nothing(recipe: Recipe) -> None:
    whole, cut = measured(recipe.signal(), *WHOLE_SONG), measured(Cut(recipe.samples(), recipe.rate_hz), *WHOLE_SONG)
    for kind, record in whole.items():
        assert close(record, cut[kind]), kind.__name__


@bounded(12)
@given(recipes("noise", "gaps", "sine", low_db=-40.0, high_db=-6.0, least=30_000), st.sampled_from((-12, -6, 6, 12)))
def test_a_louder_song_is_louder_and_nothing_else(recipe: Recipe, steps: int) -> None:
    gain_db = steps * 20.0 * np.log10(2.0) / 6.0
    before = measured(recipe.signal(), Level, Spectrum)
    after = measured(Signal(recipe.samples() * np.float32(2.0 ** (steps / 6)), recipe.rate_hz), Level, Spectrum)
    quiet, loud = before[Level], after[Level]
    assert isinstance(quiet, Level)
    assert isinstance(loud, Level)
    for name in ("integrated_lufs", "true_peak_dbtp", "sample_peak_dbfs", "momentary_max_lufs"):
        low, high = getattr(quiet, name), getattr(loud, name)
        assert (low is None) == (high is None), name
        assert low is None or high == pytest.approx(low + gain_db, abs=0.01), name
    shapes = before[Spectrum], after[Spectrum]
    assert close(getattr(shapes[0], "tilt_db_per_octave", None), getattr(shapes[1], "tilt_db_per_octave", None))


@bounded(12)
@given(recipes("noise", "gaps", "sine", "clicks", low_db=-40.0, high_db=0.0))
def test_swapped_sides_only_swap_sides(recipe: Recipe) -> None:
    samples = recipe.samples()
    here, there = (measured(Signal(np.ascontiguousarray(sides), recipe.rate_hz), Level, Stereo) for sides in (samples, samples[::-1]))
    assert close(here[Level], there[Level])
    mine, theirs = here[Stereo], there[Stereo]
    assert isinstance(mine, Stereo)
    assert isinstance(theirs, Stereo)
    assert (mine.balance_db is None) == (theirs.balance_db is None)
    assert mine.balance_db is None or mine.balance_db == pytest.approx(-(theirs.balance_db or 0.0), abs=1e-3)
    assert close(mine.correlation, theirs.correlation)


@bounded(12)
@given(recipes("noise", low_db=-40.0, high_db=0.0, least=30_000), st.integers(1, 20))
def test_silence_behind_a_song_moves_no_peak(recipe: Recipe, tenths: int) -> None:
    samples = recipe.samples()
    silence = np.zeros((samples.shape[0], tenths * recipe.rate_hz // 10), np.float32)
    plain, padded = (
        measured(Signal(sound, recipe.rate_hz), Level)[Level] for sound in (samples, np.concatenate((samples, silence), axis=1))
    )
    assert isinstance(plain, Level)
    assert isinstance(padded, Level)
    assert padded.sample_peak_dbfs == plain.sample_peak_dbfs
    if plain.momentary_max_lufs is not None:
        assert padded.momentary_max_lufs is not None
        assert padded.momentary_max_lufs >= plain.momentary_max_lufs - 1e-6
    if plain.integrated_lufs is not None and recipe.frames > 2 * recipe.rate_hz:
        assert padded.integrated_lufs == pytest.approx(plain.integrated_lufs, abs=0.7)
