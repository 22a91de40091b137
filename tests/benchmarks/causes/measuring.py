"""Measuring planted songs the cheapest way: no limiter outlook, no compressors on groups, no trials."""

import hashlib
import pickle
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Judged, judge
from advisor.measuring.measure import Kinds, measure
from advisor.measuring.measured import Measured
from advisor.stems.folder import open_stems
from advisor.stems.measuring import elements_of, trace_song
from features.records.balance import Balance, Target
from features.records.base import Measurement
from features.records.ear import Ear
from features.records.elements import Elements
from features.records.hits import Hits, Pulses, Pumping
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.load import open_source
from rules.base import all_rules
from tests.benchmarks.diagnosis.planted_sound import edges_softened
from tests.benchmarks.plans.planting import PEAK_DBFS, Stems, read_stems

ROOT = Path(__file__).parents[3]
KINDS: Kinds = (Sections, Level, Hits, Pumping, Pulses, LowEnd, Target, Spectrum, Balance, Ear, Stereo)


def song_of(folder: Path) -> Stems:
    """Read a song's stems in stereo, with clean edges."""
    song = read_stems(folder)
    stereo = {name: samples if samples.shape[1] > 1 else np.repeat(samples, 2, axis=1) for name, samples in song.stems.items()}
    return replace(song, stems={name: edges_softened(samples, song.rate_hz) for name, samples in stereo.items()})


def code() -> str:
    """Return what names the present state of everything that measures."""
    paths = sorted((ROOT / "features").rglob("*.py")) + sorted((ROOT / "advisor" / "stems").rglob("*.py"))
    return hashlib.sha1(b"".join(path.read_bytes() for path in paths)).hexdigest()[:12]  # noqa: S324 - a name, no secret


def judged_of(song: Stems, planted: str, *, stems: bool, cache: Path | None, without: Sequence[str] = ()) -> dict[str, Judged]:
    """Measure a song and judge it from the mix alone and, where they are measured, with its stems.

    What was measured is kept by the state of what measures.
    """
    sketch = f"{song.name}|{planted}|{stems}|{float(np.abs(song.mix).sum()):.6g}"
    path = None if cache is None else cache / code() / f"{hashlib.sha1(sketch.encode()).hexdigest()}.pickle"  # noqa: S324
    if path is not None and path.is_file():
        records = pickle.loads(path.read_bytes())  # noqa: S301 - written by this function
    else:
        records = measured(song, stems=stems)
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(pickle.dumps(records))
    alone = {kind: record for kind, record in records.items() if kind is not Elements}
    return {given: judged(chosen, without) for given, chosen in (("stereo", alone), ("stems", records)) if given == "stereo" or stems}


def judged(records: Mapping[type[Measurement], Measurement], without: Sequence[str] = ()) -> Judged:
    """Judge what was measured, without some rules where that is asked for."""
    rules = tuple(rule for rule in all_rules() if rule.id.rpartition("/")[2] not in without)
    outcome = judge(Measured(records, ()), yardstick_of(Settings()), rules)
    assert not outcome.failed, outcome.failed
    return outcome


def measured(song: Stems, *, stems: bool) -> dict[type[Measurement], Measurement]:
    """Measure a song as files, with its stems where they are given."""
    gain = 10 ** (PEAK_DBFS / 20) / float(np.abs(song.mix).max())
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        soundfile.write(folder / "mix.wav", (song.mix * gain).astype(np.float32), song.rate_hz, subtype="FLOAT")
        (folder / "stems").mkdir()
        for name, samples in song.stems.items() if stems else ():
            soundfile.write(folder / "stems" / f"{name}.wav", (samples * gain).astype(np.float32), song.rate_hz, subtype="FLOAT")
        return measured_files(folder / "mix.wav", folder / "stems" if stems else None, KINDS)


def measured_files(mix: Path, stems: Path | None, kinds: Kinds) -> dict[type[Measurement], Measurement]:
    """Measure a mix, and its stems where there are any."""
    yardstick, quiet = yardstick_of(Settings()), Quiet()
    with open_source(mix) as opened:
        outcome = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick, quiet, kinds)
        assert not outcome.failures, outcome.failures
        records = dict(outcome.records)
        if stems is not None:
            with open_stems(stems, opened, quiet) as folder:
                records[Elements] = elements_of(folder, trace_song(folder, opened.source, quiet), {}, lambda _name: None)
    return records
