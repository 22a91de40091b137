"""Measuring planted songs, and keeping what was measured: judging again after a change of rules then takes seconds."""

import hashlib
import os
import pickle
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile
from scipy import signal

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.measuring.measure import measure
from advisor.measuring.measured import Measured
from advisor.planning.plan_outcome import PlanOutcome, try_remedies
from advisor.planning.song import MixedSong
from advisor.stems.folder import open_stems
from advisor.stems.measuring import measure_stems, trace_song
from features.records.balance import Balance, Target
from features.records.base import Measurement
from features.records.elements import Elements
from features.records.spectrum import Spectrum
from features.sound.load import open_source
from features.tone.balance import measure_balance
from features.tone.target import general_target
from tests.benchmarks.diagnosis.faults import Fault, Planted, Size
from tests.benchmarks.diagnosis.planted_sound import edges_softened
from tests.benchmarks.diagnosis.truth import Sketch, sketch
from tests.benchmarks.plans.planting import PEAK_DBFS, Floats, Stems, read_stems

Variant = Literal["plain", "quieter", "48k", "mp3"]
Records = Mapping[type[Measurement], Measurement]
CUT_S = (10.0, 40.0)
QUIETER_DB = -10.0
SKETCHES = "sketches"


@dataclass(frozen=True, slots=True)
class Store:
    """Where records are kept: by what measured them, song, fault, size and variant."""

    root: Path | None
    tree: str
    only: bool = False  # whether nothing new is measured

    def stored(self, *names: str) -> dict[type[Measurement], Measurement] | None:
        stored: dict[type[Measurement], Measurement] | None = self._read(self.tree, names)
        return None if stored is None else held_again(stored)

    def keep(self, records: Records, *names: str) -> None:
        self._write(dict(records), self.tree, names)

    def kept_sketch(self, *names: str) -> Sketch | None:
        """Return what was drawn of a planted song; that does not depend on what measures it."""
        stored: Sketch | None = self._read(SKETCHES, names)
        return stored

    def keep_sketch(self, sketch_made: Sketch, *names: str) -> None:
        self._write(sketch_made, SKETCHES, names)

    def _read(self, folder: str, names: tuple[str, ...]) -> Any:  # noqa: ANN401 - its callers know what they kept
        path = self._path(folder, names)
        return pickle.loads(path.read_bytes()) if path is not None and path.is_file() else None  # noqa: S301 - written by this file

    def _write(self, what: object, folder: str, names: tuple[str, ...]) -> None:
        path = self._path(folder, names)
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
            aside = path.with_suffix(f".{os.getpid()}")
            aside.write_bytes(pickle.dumps(what))
            aside.replace(path)

    def _path(self, folder: str, names: tuple[str, ...]) -> Path | None:
        return None if self.root is None else self.root / folder / f"{hashlib.sha1('|'.join(names).encode()).hexdigest()}.pickle"  # noqa: S324


def held_again(records: dict[type[Measurement], Measurement]) -> dict[type[Measurement], Measurement]:
    """Hold the spectrum against the general target once more: that needs no sound, and so kept records follow the target."""
    spectrum, model = records.get(Spectrum), general_target()
    if isinstance(spectrum, Spectrum):
        records |= {Target: model.record, Balance: measure_balance(spectrum, model)}
    return records


def features_tree() -> str:
    """Return what names the state of everything that measures."""
    process = subprocess.run(["git", "rev-parse", "HEAD:features"], capture_output=True, text=True, check=True)
    return process.stdout.strip()[:12]


def excerpt(folder: Path) -> Stems:
    """Read a song's stems, cut to 30 s with clean edges."""
    whole = read_stems(folder)
    first, last = (round(second * whole.rate_hz) for second in CUT_S)
    stems = {name: edges_softened(samples[first:last], whole.rate_hz) for name, samples in whole.stems.items()}
    return Stems(whole.name, whole.rate_hz, stems, whole.drum_stems)


def written(folder: Path, planted: Planted, rate_hz: int, variant: Variant) -> Path:
    """Write mix and stems, all by one gain: the mix peaks at -3 dBFS unless the fault is about its peak."""
    wanted = 10 ** (PEAK_DBFS / 20) if planted.peak is None else planted.peak
    gain = wanted / float(np.abs(planted.mix).max()) * (10 ** (QUIETER_DB / 20) if variant == "quieter" else 1.0)
    if planted.stems is not None and variant == "plain":
        (folder / "stems").mkdir()
        for name, samples in planted.stems.items():
            soundfile.write(folder / "stems" / f"{name}.wav", (samples * gain).astype(np.float32), rate_hz, subtype="FLOAT")
    mix = planted.mix * gain
    if variant == "mp3":
        soundfile.write(folder / "mix.mp3", mix, rate_hz, format="MP3", bitrate_mode="CONSTANT", compression_level=0.0)
        return folder / "mix.mp3"
    if variant == "48k":
        mix, rate_hz = resampled(mix, rate_hz), 48000
    soundfile.write(folder / "mix.wav", mix.astype(np.float32), rate_hz, subtype="FLOAT")
    return folder / "mix.wav"


def resampled(samples: Floats, rate_hz: int) -> Floats:
    common = int(np.gcd(rate_hz, 48000))
    done: Floats = signal.resample_poly(samples, 48000 // common, rate_hz // common, axis=0)
    return done


def measured(planted: Planted, rate_hz: int, variant: Variant = "plain") -> dict[type[Measurement], Measurement]:
    """Measure a planted song as `critique` does; elements too where its stems are given."""
    settings, quiet = Settings(), Quiet()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_source(written(folder, planted, rate_hz, variant)) as opened:
            measurements = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), quiet)
            records = dict(measurements.records)
            if (folder / "stems").is_dir():
                with open_stems(folder / "stems", opened, quiet) as stems:
                    traces = trace_song(stems, opened.source, quiet)
                    records[Elements] = measure_stems(stems, opened.source, traces, records, yardstick_of(settings), quiet)
    return records


def tried(planted: Planted, rate_hz: int) -> PlanOutcome | None:
    """Run the trials on a planted mix, without stems."""
    settings, quiet = Settings(), Quiet()
    with tempfile.TemporaryDirectory() as name, open_source(written(Path(name), planted, rate_hz, "plain")) as opened:
        measurements = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), quiet)
        return try_remedies(
            MixedSong(opened.source, measurements, yardstick_of(settings)),
            measurements,
            judge(measurements, yardstick_of(settings)),
            yardstick_of(settings),
            quiet,
        )


@dataclass(frozen=True, slots=True)
class Piece:
    """A song by its name, and how to open it: that is asked only when something has to be measured."""

    name: str
    opened: Callable[[], Stems]


def records_of(store: Store, song: Piece, fault: Fault | None, size: Size, variant: Variant = "plain") -> Measured | None:
    """Return what is measured of a planted song, or of the song as it is; None where the song cannot have the fault."""
    names = (*plant_names(song, fault, size), variant)
    records = store.stored(*names)
    if records is None and store.only:
        return None
    if records is None:
        stems = song.opened()
        planted = planted_in(stems, fault, size)
        if planted is None:
            return None
        records = measured(planted, stems.rate_hz, variant)
        store.keep(records, *names)
    return Measured(records, ())


def sketch_of(store: Store, song: Piece, fault: Fault | None, size: Size) -> Sketch:
    """Return what a plant that this song can have did to the sound, read by other means."""
    names = plant_names(song, fault, size)
    stored = store.kept_sketch(*names)
    if stored is None:
        stems = song.opened()
        planted = planted_in(stems, fault, size)
        assert planted is not None
        stored = sketch(planted.mix, stems.rate_hz)
        store.keep_sketch(stored, *names)
    return stored


def plant_names(song: Piece, fault: Fault | None, size: Size) -> tuple[str, str, str]:
    """Return what names a plant; the same fault with and without stems given is the same plant."""
    if fault is None:
        return song.name, "as it is", "0"
    return song.name, fault.id.removesuffix(", stems"), f"{fault.amounts[size]}"


def planted_in(song: Stems, fault: Fault | None, size: Size) -> Planted | None:
    if fault is None:
        return Planted(song.mix, song.stems if len(song.stems) > 1 else None)
    return fault.plant(song, fault.amounts[size])
