"""The promises of the plan, checked with tools that are not ours.

Each song, as it is and with one planted fault, is critiqued; then every step of its plan is put in place by ffmpeg (or sox) at the settings
the report states, one after the other over the whole song, and what comes out is measured again. Three things are compared:

- on the stretches the report names, each step's clean loudness, octave levels and share of the hits heard with its ``after``;
- over the whole song, each step's clean loudness with ``outlook_after_lufs``;
- over the whole song, after the last step, all three with ``plan_check``.

A step passes when clean loudness is within 0.3 LU, every octave within 0.5 dB and hits within 0.05. Steps that only our own processor can
do are done with it, so that later steps find what they expect, and not counted. Findings whose move was tried alone are checked on the
stretches too with ``--alone``; ``--moves`` checks one move of each kind on each song, whether a plan holds it or not.
"""

import argparse
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any, get_args

import numpy as np
from scipy.signal import butter, sosfilt

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.critique import critique
from advisor.judging.judge import judge
from advisor.measuring.measure import measure
from advisor.planning.listening import Listener, trial_rules
from advisor.planning.plan_section import compared_readings
from advisor.planning.trial_readings import TrialReadings, trial_readings
from advisor.remedies.apply import apply
from advisor.remedies.wording import remedy_sentence
from advisor.report_model.codec import to_json
from advisor.sources.excerpt import choose, take
from features.records.base import Span
from features.records.file import File
from features.sound.load import open_source
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests.benchmarks.plans import planting
from tests.benchmarks.plans.other_tools import Tool, put_in_place
from tests.benchmarks.plans.planting import Floats, Stems

CLEAN_LU, BAND_DB, HITS_SHARE = 0.3, 0.5, 0.05
WANTED = 0.9
SETTINGS = Settings(audition=False)
Plant = Callable[[Stems], Floats]


def channel_down(song: Stems) -> Floats:
    down: Floats = song.mix * np.array([1.0, 10 ** (-4.0 / 20)])
    return down


def wide_bass(song: Stems) -> Floats:
    """Turn half of what lies below 150 Hz upside down in the right channel."""
    low = sosfilt(butter(4, 150.0, fs=song.rate_hz, output="sos"), song.mix, axis=0)
    wide: Floats = song.mix - low * np.array([0.0, 1.4])
    return wide


def rumble(song: Stems) -> Floats:
    noise = np.random.default_rng(1).standard_normal((len(song.mix), 1))
    low = sosfilt(butter(4, (8.0, 24.0), "bandpass", fs=song.rate_hz, output="sos"), noise, axis=0)
    rumbling: Floats = song.mix + low * (0.3 * np.sqrt(np.mean(song.mix**2) / np.mean(low**2)))
    return rumbling


def uneven_bass(song: Stems) -> Floats:
    """Give each half second of what lies below 120 Hz a level of its own, 6 dB either way."""
    low = sosfilt(butter(2, 120.0, fs=song.rate_hz, output="sos"), song.mix, axis=0)
    count = 2 * len(low) // song.rate_hz + 2
    levels_db = np.random.default_rng(2).uniform(-6.0, 6.0, count)
    at = np.minimum(np.arange(len(low)) * 2 // song.rate_hz, count - 1)
    smooth = sosfilt(butter(1, 10.0, fs=song.rate_hz, output="sos"), levels_db[at])
    uneven: Floats = song.mix + low * (10 ** (smooth / 20) - 1)[:, None]
    return uneven


FAULTS: dict[str, Plant] = {
    "bell +9 dB, 250 Hz": lambda song: planting.bell(song.mix, song.rate_hz, 250.0, 9.0),
    "low shelf +8 dB, 70 Hz": lambda song: planting.low_shelf(song.mix, song.rate_hz, 70.0, 8.0),
    "drums -6 dB": lambda song: planting.drums_down(song, -6.0),
    "right channel -4 dB": channel_down,
    "wide bass": wide_bass,
    "stray peaks": lambda song: planting.strays(song, 8.0)[0],
    "rumble below 25 Hz": rumble,
    "uneven bass": uneven_bass,
    "bell +8 dB, 3.2 kHz": lambda song: planting.bell(song.mix, song.rate_hz, 3200.0, 8.0, 0.9),
    "low shelf -8 dB, 80 Hz": lambda song: planting.low_shelf(song.mix, song.rate_hz, 80.0, -8.0),
    "resonance +14 dB, 800 Hz": lambda song: planting.bell(song.mix, song.rate_hz, 800.0, 14.0, 12.0),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One promise beside what was delivered: clean loudness, the octave that lies furthest off, hits heard."""

    kind: str
    by_whom: str
    clean: tuple[float | None, float | None]
    band_off_db: float | None = None
    hits: tuple[float | None, float | None] = (None, None)

    @property
    def passes(self) -> bool:
        return _near(*self.clean, CLEAN_LU) and (self.band_off_db is None or self.band_off_db <= BAND_DB) and _near(*self.hits, HITS_SHARE)

    def words(self) -> str:
        band = " " * 5 if self.band_off_db is None else f"{self.band_off_db:5.2f}"
        return f"clean {_pair(self.clean, 2)}  octaves off by {band} dB  hits {_pair(self.hits, 3)}  {'ok' if self.passes else 'OFF'}"


def _near(promised: float | None, delivered: float | None, most: float) -> bool:
    if promised is None or delivered is None:
        return promised is delivered
    return abs(promised - delivered) <= most


def _pair(values: tuple[float | None, float | None], digits: int) -> str:
    return " ".join("     -" if value is None else f"{value:6.{digits}f}" for value in values)


def compared(kind: str, by_whom: str, promised: dict[str, Any], readings: TrialReadings) -> Row:
    apart = [abs(promised_db - other) for promised_db, other in zip(promised["bands_db"], readings.bands_db, strict=True)]
    return Row(
        kind, by_whom, (promised["clean_lufs"], readings.clean_lufs), max(apart, default=0.0), (promised["hits_heard"], readings.hits_heard)
    )


def whole(sound: Signal, file: File, settings: Settings) -> TrialReadings:
    """Measure as a new critique of the delivered mix does."""
    again = measure(sound, file, lambda: 0, yardstick_of(settings), Quiet())
    return trial_readings(dict(again.records), judge(again, yardstick_of(settings), trial_rules()))


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for."""

    settings: Settings
    tool: Tool
    alone: bool
    moves: bool
    all_faults: bool


def check(report: dict[str, Any], sound: Signal, file: File, asked: Asked) -> Iterator[tuple[str, list[Row]]]:
    """Yield each step in words with its rows."""
    spans = [Span(span["start_s"], span["end_s"]) for span in report["tried_on"] or ()]
    listen = Listener(yardstick_of(asked.settings))
    now = sound
    for step in report["plan"]:
        done = put_in_place(Remedy(**step["remedy"]), now, asked.tool)
        now = done.sound
        rows = [compared("stretches", done.by_whom, step["after"], listen(take(now, spans).signal))]
        readings = whole(now, file, asked.settings)
        rows.append(Row("whole", done.by_whom, (step["outlook_after_lufs"], readings.clean_lufs)))
        if step is report["plan"][-1]:
            rows.append(compared("plan", done.by_whom, report["plan_check"]["after"], readings))
        yield f"step {step['step']} {step['rule']}: {step['move']}", rows
    if asked.alone:
        planned = {step["rule"] for step in report["plan"]}
        for card in report["findings"]:
            if card["trial"] is not None and card["rule"] not in planned:
                done = put_in_place(Remedy(**card["trial"]["remedy"]), sound, asked.tool)
                row = compared("alone", done.by_whom, card["trial"]["after"], listen(take(done.sound, spans).signal))
                yield f"alone {card['rule']}: {card['trial']['move']}", [row]


def moves(ordinary_peak_dbfs: float) -> list[Remedy]:
    """Return one move of each kind that such a tool can do, compressors as deep as the rules set them."""
    glue = Remedy("compressor", threshold_dbfs=round(ordinary_peak_dbfs - 6.0, 1), ratio=2.0, attack_ms=30.0, release_ms=100.0, knee_db=6.0)
    return [
        Remedy("gain", gain_db=-3.0),
        Remedy("gain", part="left", gain_db=-2.0),
        Remedy("gain", part="percussive", gain_db=2.0),
        Remedy("bell", frequency_hz=250.0, gain_db=-4.0, q=1.41),
        Remedy("bell", part="side", frequency_hz=3000.0, gain_db=-4.0, q=1.0),
        Remedy("bell", part="sustained", frequency_hz=120.0, gain_db=-3.0, q=1.4),
        Remedy("low_shelf", frequency_hz=60.0, gain_db=-5.0, q=0.7),
        Remedy("high_shelf", frequency_hz=4000.0, gain_db=3.0, q=0.7),
        *(Remedy("high_pass", frequency_hz=hz, order=order) for hz, order in ((30.0, 2), (40.0, 4), (80.0, 1), (50.0, 3))),
        Remedy("low_pass", frequency_hz=12000.0, order=2),
        Remedy("mono_below", frequency_hz=120.0),
        Remedy("side_gain", part="side", gain_db=-3.0),
        glue,
        replace(glue, ratio=4.0, attack_ms=10.0),
        replace(glue, threshold_dbfs=round(ordinary_peak_dbfs - 14.0, 1)),
        replace(glue, part="percussive"),
        replace(glue, part="sustained", ratio=3.0, attack_ms=20.0, release_ms=150.0),
        replace(glue, kind="parallel", ratio=4.0, blend_db=-10.0),
    ]


def check_moves(report: dict[str, Any], sound: Signal, asked: Asked) -> Iterator[tuple[str, list[Row]]]:
    """Yield one move of each kind with its row: what our trial of it hears, and what the tool delivers."""
    densest = report["measurements"]["sections"]["densest"]
    spans = choose(Span(densest["start_s"], densest["end_s"]), (), sound.duration_s)
    excerpt, listen = take(sound, spans).signal, Listener(yardstick_of(asked.settings))
    for remedy in moves(report["measurements"]["crest"]["ordinary_peak_dbfs"] or -12.0):
        promised = json.loads(to_json(compared_readings(listen(apply(remedy, excerpt)))))
        done = put_in_place(remedy, sound, asked.tool)
        yield f"move: {remedy_sentence(remedy)}", [compared("moves", done.by_whom, promised, listen(take(done.sound, spans).signal))]


def mixes(folder: Path, place: int, *, all_faults: bool) -> Iterator[tuple[str, Floats, int]]:
    song = planting.read_stems(folder)
    yield "as it is", song.mix, song.rate_hz
    names = list(FAULTS)
    for fault in names if all_faults else [names[place % len(names)]]:
        if song.has_drums or ("drum" not in fault and "peaks" not in fault):
            yield fault, FAULTS[fault](song), song.rate_hz


def report_on(path: Path, asked: Asked, *, with_moves: bool) -> list[Row]:
    """Critique one mix, check its plan and print it."""
    report = json.loads(to_json(critique(path, asked.settings, path.with_suffix("")).report))
    with open_source(path) as opened:
        file, sound = opened.file, Signal(np.ascontiguousarray(opened.source.read(0, opened.source.frames)), opened.source.rate_hz)
    rows: list[Row] = []
    for words, some in chain(check(report, sound, file, asked), check_moves(report, sound, asked) if with_moves else ()):
        print(f"  {words}")
        for row in some:
            print(f"    {row.kind:9} {row.by_whom:8} {row.words()}", flush=True)
        rows.extend(some)
    return rows


def summary(rows: list[Row]) -> None:
    for kind in ("stretches", "whole", "plan", "alone", "moves"):
        counted = [row for row in rows if row.kind == kind and row.by_whom != "ours"]
        ours = sum(1 for row in rows if row.kind == kind) - len(counted)
        if counted:
            passing = sum(row.passes for row in counted)
            verdict = "" if passing / len(counted) >= WANTED else f", under the {WANTED:.0%} wanted"
            share = f"{passing / len(counted):.0%}{verdict}"
            print(f"{kind:9}: {passing} of {len(counted)} promises kept ({share}); {ours} not counted, done by ours")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True, help="folder of songs, each a folder with stems/*.flac")
    parser.add_argument("--only", action="append", help="check this song alone; may be given again")
    parser.add_argument("--tool", choices=get_args(Tool), default="ffmpeg")
    parser.add_argument("--alone", action="store_true", help="check the moves that were tried alone too")
    parser.add_argument("--moves", action="store_true", help="check one move of each kind on each song as it is")
    parser.add_argument("--all-faults", action="store_true", help="plant every fault into every song, not one into each")
    parser.add_argument("--target", type=float, default=SETTINGS.target_lufs, help="loudness asked for; a high one asks for compressors")
    given = parser.parse_args()
    asked = Asked(replace(SETTINGS, target_lufs=given.target), given.tool, given.alone, given.moves, given.all_faults)
    folders = sorted(path.parent for path in given.songs.glob("*/stems"))
    rows: list[Row] = []
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        for place, folder in enumerate(folders):
            if given.only and folder.name not in given.only:
                continue
            for number, (fault, samples, rate_hz) in enumerate(mixes(folder, place, all_faults=asked.all_faults)):
                path = Path(scratch) / f"{folder.name}-{number}.wav"
                planting.write(path, samples, rate_hz)
                print(f"\n{folder.name}, {fault} [{time.monotonic() - start:.0f} s]")
                rows.extend(report_on(path, asked, with_moves=asked.moves and number == 0))
                path.unlink()
    print(f"\npromised by the report, delivered by {asked.tool}:")
    summary(rows)


if __name__ == "__main__":
    main()
