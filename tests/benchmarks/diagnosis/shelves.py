"""Finished songs as mixes to plant faults in, and shelves of other songs of their collection to hold them against."""

import hashlib
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import soundfile

from advisor.measuring.measured import Measured
from advisor.references.comparing import against, target_of
from advisor.references.records import Reference, Song
from features.records.base import Measurement
from features.records.file import File, Health
from features.records.headline import Headline
from features.records.hits import Hits
from features.records.level import Level
from features.records.spectrum import Spectrum
from features.tone.target import TargetModel, general_target
from tests.benchmarks.diagnosis.planted_sound import edges_softened
from tests.benchmarks.plans.planting import Floats, Stems

SUFFIXES = (".ogg", ".flac", ".wav", ".mp3")
EXCERPT_S = 45.0
STEP_S = 0.5
SHELF = 8
NEAR_COPIES = (frozenset(("sixtyfour_", "sixtyfour_revisited")),)  # two versions of one track: never held against each other


@dataclass(frozen=True)
class Finished:
    """A finished song of a collection; its sound is read only when something has to be measured."""

    path: Path

    @property
    def package(self) -> str:
        return self.path.parent.name

    @property
    def name(self) -> str:
        return f"{self.package}/{self.path.stem}"

    def opened(self) -> Stems:
        return self._sound

    @cached_property
    def _sound(self) -> Stems:
        """Its loudest 45 s with clean edges, as a song of one stem."""
        samples, rate_hz = soundfile.read(self.path, dtype="float64", always_2d=True)
        if samples.shape[1] == 1:
            samples = np.repeat(samples, 2, axis=1)
        return Stems(self.name, rate_hz, {"song": edges_softened(loudest(samples, rate_hz), rate_hz)}, frozenset())


def loudest(samples: Floats, rate_hz: int) -> Floats:
    """Return the 45 s of most energy: what weighs most where a whole song is measured."""
    step = round(STEP_S * rate_hz)
    wanted = round(EXCERPT_S / STEP_S)
    power = np.sum(samples[: len(samples) // step * step] ** 2, axis=1).reshape(-1, step).sum(axis=1)
    if len(power) <= wanted:
        return samples
    sums = np.convolve(power, np.ones(wanted), mode="valid")
    first = int(np.argmax(sums)) * step
    return samples[first : first + wanted * step]


def finished_songs(folder: Path) -> list[Finished]:
    return [Finished(path) for path in sorted(folder.glob("*/*")) if path.suffix in SUFFIXES]


def copies(song: Finished, other: Finished) -> bool:
    stems = frozenset((song.path.stem, other.path.stem))
    return song.path == other.path or stems in NEAR_COPIES


def own_shelf(song: Finished, songs: Sequence[Finished]) -> list[Finished]:
    """Draw eight others of the same collection; none where there are fewer."""
    return drawn(song, [candidate for candidate in songs if candidate.package == song.package])


def wrong_shelf(song: Finished, songs: Sequence[Finished]) -> list[Finished]:
    """Draw eight songs of other collections."""
    return drawn(song, [candidate for candidate in songs if candidate.package != song.package])


def drawn(song: Finished, songs: Sequence[Finished]) -> list[Finished]:
    others = [candidate for candidate in songs if not copies(song, candidate)]
    return random.Random(song.name).sample(others, SHELF) if len(others) >= SHELF else []


def reference(song: Finished, records: Mapping[type[Measurement], Measurement]) -> Reference | None:
    """Make a reference of what `critique` measures of a song: the same readings that a shelf keeps; None for silence."""
    file, level, spectrum, health, hits, headline = (records[kind] for kind in (File, Level, Spectrum, Health, Hits, Headline))
    assert isinstance(file, File)
    assert isinstance(level, Level)
    assert isinstance(spectrum, Spectrum)
    assert isinstance(health, Health)
    assert isinstance(hits, Hits)
    assert isinstance(headline, Headline)
    if level.integrated_lufs is None or level.true_peak_dbtp is None or not spectrum.third_octave_db:
        return None
    made = Song(
        duration_s=file.duration_s,
        rate_hz=file.rate_hz,
        channels=file.channels,
        lossy=file.lossy,
        integrated_lufs=level.integrated_lufs,
        true_peak_dbtp=level.true_peak_dbtp,
        bandwidth_hz=health.bandwidth_hz,
        percussive_share=hits.percussive_share,
        third_octave_hz=spectrum.third_octave_hz,
        third_octave_db=spectrum.third_octave_db,
        headline=headline,
    )
    return Reference(hashlib.sha256(song.name.encode()).hexdigest(), song.path.name, str(song.path), made)


def target_from(references: Sequence[Reference]) -> TargetModel:
    """Return the references' target, or the general one without any."""
    return target_of(tuple(references), f"your {len(references)} references") if references else general_target()


def against_model(measured: Measured, model: TargetModel) -> Measured:
    """Hold what was measured against a target, by the present code."""
    return Measured(against(measured.records, model), ())
