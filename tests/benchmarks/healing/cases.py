"""One case: a song with a planted fault, critiqued as a user would, its plan followed, and measured again."""

import contextlib
import io
import json
import os
import tempfile
import time
import traceback
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.cli.main import main as command_line
from advisor.measuring.measure import measure_again
from advisor.outcomes.moved import distance_moved
from advisor.outcomes.outcomes import ElementStands, Outcomes, outcomes_of
from features.sound.signal import Signal
from features.tone.target import general_target
from rules.remedy import Remedy
from tests.benchmarks.healing.distance import Basis, Distance, Reading, apart, element_levels, read
from tests.benchmarks.healing.following import MIX, Desk, groups_of, remedies_of
from tests.benchmarks.healing.plants import FAULTS, Way
from tests.benchmarks.healing.scoring import AS_IT_IS, Row, steps_back
from tests.benchmarks.plans import planting
from tests.benchmarks.plans.planting import Floats, Stems

Given = Literal["stems", "stereo"]
OF_PEAKS = frozenset(("stray-peaks",))
OF_PICTURE = frozenset(("wide-lows", "polarity", "delay"))  # change phases, so that nothing can be laid on the stems
EXCERPT_S = 50


@dataclass(frozen=True, slots=True)
class Case:
    """What is planted where and how, and whether stems are given; ``again``: whether the followed mix is critiqued once more."""

    folder: Path
    fault: str
    way: Way | Literal["-"]
    given: Given
    again: bool = False


@dataclass(frozen=True, slots=True)
class MixReading:
    """A mix by both measures."""

    reading: Reading
    outcomes: Outcomes

    def without_elements(self) -> "MixReading":
        """Return what was measured of the mix alone."""
        stand = replace(self.outcomes.stand, elements=())
        return MixReading(replace(self.reading, elements_lu={}), replace(self.outcomes, stand=stand))


@lru_cache(maxsize=2)
def song_of(folder: Path) -> Stems:
    """Read a song's stems in stereo, cut to the excerpt."""
    song = planting.read_stems(folder)
    stems = {name: samples[: EXCERPT_S * song.rate_hz] for name, samples in song.stems.items()}
    return replace(
        song, stems={name: samples if samples.shape[1] > 1 else np.repeat(samples, 2, axis=1) for name, samples in stems.items()}
    )


def critique(mix: Path, out: Path, *options: str) -> dict[str, Any]:
    """Return the report of a critique by the command line."""
    os.environ.setdefault("MIXPROOF_HOME", str(out.parent / "home"))
    said = io.StringIO()
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            command_line(["critique", str(mix), "--no-audition", "--out", str(out), *options])
    except SystemExit as ended:
        if ended.code:
            raise RuntimeError(f"the critique of {mix.name} ended with {ended.code}: {said.getvalue()[-300:]}") from ended
    report: dict[str, Any] = json.loads((out / "report.json").read_text(encoding="utf-8"))
    return report


def clean_lufs(report: Mapping[str, Any]) -> float | None:
    outlook = report.get("outlook") or {}
    level = outlook.get("clean_lufs")
    return None if level is None else float(level)


def measured(mix: Floats, rate_hz: int, elements_lu: Mapping[str, float]) -> MixReading:
    """Measure a mix by scipy, and by the project; both get the same levels of elements."""
    sound = Signal(np.ascontiguousarray(mix.T, np.float32), rate_hz)
    outcomes = outcomes_of(measure_again(sound, yardstick_of(Settings()), Quiet()).records, general_target())
    elements = tuple(ElementStands(name, level) for name, level in elements_lu.items())
    return MixReading(read(mix, rate_hz, elements_lu), replace(outcomes, stand=replace(outcomes.stand, elements=elements)))


@lru_cache(maxsize=3)
def basis_of(folder: Path) -> Basis:
    song = song_of(folder)
    return Basis.of(song.stems, song.rate_hz)


@cache
def untouched(folder: Path) -> tuple[MixReading, float | None]:
    """Return the readings of a song before any fault, and its clean loudness."""
    song = song_of(folder)
    mix = song.mix
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "mix.wav"
        planting.write(path, mix, song.rate_hz)
        clean = clean_lufs(critique(path, Path(scratch) / "out", "--quick"))
    return measured(mix, song.rate_hz, element_levels(song.stems, mix, song.rate_hz)), clean


def planted_stems(song: Stems, case: Case) -> dict[str, Floats] | None:
    if case.way == "-":
        return dict(song.stems)
    return FAULTS[case.fault][case.way](song)


def written(folder: Path, stems: Mapping[str, Floats], rate_hz: int, mix: Floats | None = None) -> tuple[Path, float]:
    """Write the mix at a peak of -3 dBFS and the stems at the same gain; return the mix's path and the gain."""
    (folder / "stems").mkdir(parents=True, exist_ok=True)
    path = folder / "mix.wav"
    total: Floats = np.sum(list(stems.values()), axis=0) if mix is None else mix
    gain = float(10 ** (planting.write(path, total, rate_hz) / 20))
    for name, samples in stems.items():
        soundfile.write(folder / "stems" / f"{name}.wav", (samples * gain).astype(np.float32), rate_hz, subtype="FLOAT")
    return path, gain


def with_stems(case: Case, folder: Path) -> tuple[str, ...]:
    return ("--stems", str(folder / "stems")) if case.given == "stems" else ()


def followed(report: Mapping[str, Any], parts: Mapping[str, Floats], rate_hz: int) -> tuple[Desk, list[Remedy], list[str]]:
    """Return the desk after the plan, the moves and by whom each was done."""
    desk = Desk.of(parts, rate_hz, groups_of(report))
    remedies = remedies_of(report)
    return desk, remedies, [desk.follow(remedy) for remedy in remedies]


def run_case(case: Case) -> Row | None:
    """Return what came of a case; None where the song cannot have the fault. A crash is a row that says so."""
    start = time.monotonic()
    row = Row(case.folder.name, case.fault, case.way, case.given)
    try:
        with tempfile.TemporaryDirectory() as scratch:
            done = _run(case, row, Path(scratch))
    except Exception as error:  # noqa: BLE001 - the other cases go on, and the run ends with status 1
        place = traceback.extract_tb(error.__traceback__)[-1]
        done = replace(row, error=f"{type(error).__name__} in {Path(place.filename).name}:{place.lineno}: {error}"[:300])
    return None if done is None else replace(done, seconds=round(time.monotonic() - start, 1))


def _run(case: Case, row: Row, scratch: Path) -> Row | None:
    song = song_of(case.folder)
    reference, clean_before = untouched(case.folder)
    stems = planted_stems(song, case)
    if stems is None:
        return None
    path, gain = written(scratch / "planted", stems, song.rate_hz)
    report = critique(path, scratch / "report", *with_stems(case, scratch / "planted"))
    scaled = {name: samples * gain for name, samples in stems.items()}
    total: Floats = np.sum(list(scaled.values()), axis=0)
    desk, remedies, by_whom = followed(report, scaled if case.given == "stems" else {MIX: total}, song.rate_hz)
    mix = np.asarray(desk.mix.samples.T, np.float64)
    after_path, _ = written(scratch / "followed", desk.samples() if case.given == "stems" else {}, song.rate_hz, mix)
    after = critique(after_path, scratch / "after", "--quick") if remedies else report
    second = _second_plan(case, scratch, after_path) if case.again and remedies else []
    check = (report.get("plan_check") or {}).get("after") or {}
    clean = {"clean_original": clean_before, "clean_planted": clean_lufs(report), "clean_followed": clean_lufs(after)}
    columns: dict[str, Any] = {
        **clean,
        "clean_promised": check.get("clean_lufs"),
        **_distances(case, reference, scaled, desk if remedies else None, mix),
    }
    back = "; ".join(words(remedy) for remedy in steps_back(remedies, second))
    moves = "; ".join(words(remedy) for remedy in remedies)
    return replace(row, steps=len(remedies), moves=moves, by_whom=" ".join(by_whom), stepped_back=back, **columns)


def _second_plan(case: Case, scratch: Path, path: Path) -> list[Remedy]:
    return remedies_of(critique(path, scratch / "again", *with_stems(case, scratch / "followed")))


def _distances(case: Case, reference: MixReading, planted: Mapping[str, Floats], desk: Desk | None, mix: Floats) -> dict[str, float]:
    """Return the distances before and after the plan; without a desk, nothing was moved."""
    rate_hz = song_of(case.folder).rate_hz
    total: Floats = np.sum(list(planted.values()), axis=0)
    of_the_mix_alone = case.given == "stereo" and case.fault in OF_PICTURE

    def levels(samples: Floats, stems: Mapping[str, Floats]) -> dict[str, float]:
        if case.given == "stems":
            return element_levels(stems, samples, rate_hz)
        return {} if of_the_mix_alone else basis_of(case.folder).levels(samples, rate_hz)

    before = measured(total, rate_hz, levels(total, planted))
    after = before if desk is None else measured(mix, rate_hz, levels(mix, desk.samples()))
    return _as_columns(case, reference.without_elements() if of_the_mix_alone else reference, before, after)


def _as_columns(case: Case, reference: MixReading, before: MixReading, after: MixReading) -> dict[str, float]:
    columns: dict[str, float] = {}
    for name, now in (("before", before), ("after", after)):
        far: Distance = apart(reference.reading, now.reading)
        own = distance_moved(reference.outcomes, now.outcomes).steps
        columns |= {
            name: far.total(peaks=case.fault in OF_PEAKS), f"own_{name}": own, f"tone_{name}": far.tone_db, f"levels_{name}": far.levels_db,
            f"picture_{name}": far.picture_db, f"peaks_{name}": far.peaks_db,
        }  # fmt: skip
    return {name: round(value, 3) for name, value in columns.items()}


def words(remedy: Remedy) -> str:
    """Return a move in few words."""
    where = "" if remedy.frequency_hz is None else f" {remedy.frequency_hz:.0f} Hz"
    amount = "" if remedy.gain_db is None else f" {remedy.gain_db:+.1f} dB"
    late = "" if remedy.delay_ms is None else f" {remedy.delay_ms:+.2f} ms"
    ceiling = "" if remedy.ceiling_dbfs is None else f" at {remedy.ceiling_dbfs:.1f} dBFS"
    return f"{remedy.kind} {remedy.part}{where}{amount}{late}{ceiling}"


def all_cases(
    folders: Sequence[Path], faults: Sequence[str], ways: Sequence[Way], givens: Sequence[Given], *, again: bool, planted_only: bool
) -> Iterator[Case]:
    """Yield songs as they are, then fault by fault every way; all songs in turn, so that the first cases are of all."""
    for folder in () if planted_only else folders:
        for given in givens:
            yield Case(folder, AS_IT_IS, "-", given, again)
    for fault in faults:
        for way in ways:
            for folder in folders:
                for given in givens:
                    yield Case(folder, fault, way, given, again)
