"""Whether the critique reports faults planted in real songs, and whether its plan mends them.

    python -m tests.benchmarks.plans.planted_plans --songs DIR [--faults bell250 sub drums strays ...] [--only SONG ...]

DIR/SONG/stems/*.flac; the mix is the sum of the stems. Planted, one at a time: a bell of +11 dB, an octave wide (Q 1.41), at 250, 550 or
3200 Hz; a low shelf of +12 dB at 60 Hz; all drum stems 10 dB down; five hits of the strongest drum stem 9 dB up.

Tone: reported is a finding of too much there, within a third of an octave. The band's level is the mean of the third octaves around it
against the general target, level taken out: unplanted > planted > after the plan, and the target's tolerance. Mended: cut in the right
place, the band inside the tolerance, or no higher than a decibel above the unplanted song, and no more than 3 dB below it.
Drums: share of the usual hit that is heard, and percussive share. Mended: half of the way back or more. Truth beside it: loudness of the
drums against the mix, from the stems.
Strays: how many stand 4 dB or more above the ordinary peaks. Mended: no more of them than before planting.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyloudnorm
from numpy.typing import NDArray

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Judged, judge
from advisor.measuring.measure import measure, measure_again
from advisor.planning.plan import Step
from advisor.planning.plan_outcome import try_remedies
from advisor.planning.song import MixedSong
from features.records.balance import Balance, Target
from features.records.base import Measurement
from features.records.crest import Crest
from features.records.hits import Hits
from features.sound.load import open_source
from rules.base import Finding
from rules.remedy import Remedy
from tests.benchmarks.plans import planting

Records = dict[type[Measurement], Measurement]
Planted = Callable[[planting.Stems], NDArray[np.float64]]

BELLS_HZ = {"bell250": 250.0, "bell550": 550.0, "bell3200": 3200.0, "sub": 45.0}
BELL_DB, SHELF_DB, DRUMS_DB, STRAY_DB = 11.0, 12.0, -10.0, 9.0
NEAR_OCTAVES = 1.0 / 3.0
OVERSHOOT_DB = 3.0
TALL_STRAY_DB = 4.0
RULES = {
    "bell250": ("broad_excess",), "bell550": ("broad_excess",), "bell3200": ("broad_excess", "ear_band_too_strong"),
    "sub": ("sub_excess", "broad_excess"), "drums": ("buried_hits",), "strays": ("stray_peaks", "short_of_target"),
}  # fmt: skip
FAULTS: dict[str, Planted] = {
    **{name: lambda song, hz=hz: planting.bell(song.mix, song.rate_hz, hz, BELL_DB) for name, hz in BELLS_HZ.items() if hz > 100.0},  # type: ignore[misc]
    "sub": lambda song: planting.low_shelf(song.mix, song.rate_hz, planting.SHELF_HZ, SHELF_DB),
    "drums": lambda song: planting.drums_down(song, DRUMS_DB),
    "strays": lambda song: planting.strays(song, STRAY_DB)[0],
}


@dataclass(frozen=True, slots=True)
class Run:
    """A song through the whole advice."""

    records: Records
    judged: Judged
    steps: tuple[Step, ...]
    after: Records


def run(samples: NDArray[np.float64], rate_hz: int, *, advise: bool = True) -> Run:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mix.wav"
        planting.write(path, samples, rate_hz)
        with open_source(path) as opened:
            settings = Settings()
            measured = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), Quiet())
            judged = judge(measured, yardstick_of(settings))
            song = MixedSong(opened.source, measured, yardstick_of(settings))
            tried = (
                try_remedies(MixedSong(opened.source, measured, yardstick_of(settings)), measured, judged, yardstick_of(settings), Quiet())
                if advise
                else None
            )
            steps = () if tried is None else tuple(tried.plan.steps)
            remedies = [step.remedy for step in steps]
            after = measure_again(song.after(remedies), yardstick_of(settings), Quiet()).records if steps else measured.records
    return Run(dict(measured.records), judged, steps, dict(after))


def findings(judged: Judged) -> Iterator[tuple[str, Finding]]:
    for card in judged.cards:
        for rule, finding in ((card.rule, card.finding), *card.also):
            yield rule.id.partition("/")[2], finding


def near(hz: float | None, wanted_hz: float) -> bool:
    return hz is not None and abs(np.log2(hz / wanted_hz)) <= NEAR_OCTAVES + 1e-9


def aims_at(fault: str, remedy: Remedy | None) -> bool:
    """Whether a remedy cuts within a third of an octave of the planted excess; a low shelf reaches everything below its corner."""
    if remedy is None or (remedy.gain_db or 0.0) >= 0.0:
        return False
    if fault == "sub":
        return near(remedy.frequency_hz, planting.SHELF_HZ if remedy.kind == "low_shelf" else BELLS_HZ[fault])
    return near(remedy.frequency_hz, BELLS_HZ[fault]) and remedy.kind in ("bell", "dynamic_bell")


def band_db(records: Records, fault: str) -> tuple[float, float]:
    """Return how far the planted band stands above the target, and the target's tolerance there."""
    balance, target = records[Balance], records[Target]
    assert isinstance(balance, Balance)
    assert isinstance(target, Target)
    hz = np.array(balance.third_octave_hz)
    wanted = (hz > 19.0) & (hz < 57.0) if fault == "sub" else np.abs(np.log2(hz / BELLS_HZ[fault])) < 0.2
    return float(np.array(balance.deviation_db)[wanted].mean()), float(np.array(target.spread_db[: len(hz)])[wanted].mean())


def moves_of(steps: tuple[Step, ...]) -> str:
    return ", ".join(move(step.remedy) for step in steps) or "no plan"


def move(remedy: Remedy) -> str:
    part = "" if remedy.part == "mix" else f" {remedy.part}"
    where = "" if remedy.frequency_hz is None else f" {remedy.frequency_hz:.0f} Hz"
    amount = "" if remedy.gain_db is None else f" {remedy.gain_db:+.1f} dB"
    level = "" if remedy.ceiling_dbfs is None else f" {remedy.ceiling_dbfs:.1f} dBFS"
    return f"{remedy.kind}{part}{where}{amount}{level}"


def tone_row(fault: str, plain: Run, planted: Run) -> tuple[bool, bool, bool, str]:
    seen = [(name, finding) for name, finding in findings(planted.judged) if name in RULES[fault] and aims_at(fault, finding.remedy)]
    cuts = [step.remedy for step in planted.steps if aims_at(fault, step.remedy)]
    (was, tolerance), (now, _), (after, _) = (band_db(records, fault) for records in (plain.records, planted.records, planted.after))
    inside = after <= max(tolerance, was + 1.0)
    over = after < was - OVERSHOOT_DB
    name = seen[0][0] if seen else "-"
    words = f"{name:<20} {was:+5.1f} > {now:+5.1f} > {after:+5.1f} ({tolerance:.1f}) {'over ' if over else 'in   ' if inside else 'out  '}"
    return bool(seen), bool(cuts), bool(cuts) and inside and not over, words


def hits(records: Records) -> tuple[float, float]:
    record = records[Hits]
    assert isinstance(record, Hits)
    return record.audible_share_median or 0.0, record.percussive_share or 0.0


def drums_lu(song: planting.Stems, gain_db: float) -> float:
    meter = pyloudnorm.Meter(song.rate_hz)
    drums = song.drums * 10 ** (gain_db / 20)
    return float(meter.integrated_loudness(drums) - meter.integrated_loudness(song.rest + drums))


def drum_row(song: planting.Stems, plain: Run, planted: Run) -> tuple[bool, bool, bool, str]:
    seen = [name for name, finding in findings(planted.judged) if name in RULES["drums"]]
    named = [step for step in planted.steps if step.remedy.part == "percussive" and (step.remedy.gain_db or 0.0) > 0.0]
    (was, strikes_was), (now, strikes_now), (after, strikes_after) = (
        hits(records) for records in (plain.records, planted.records, planted.after)
    )
    back = after - now >= 0.5 * (was - now) or strikes_after - strikes_now >= 0.5 * (strikes_was - strikes_now)
    words = (
        f"{seen[0] if seen else '-':<12} heard {was:.2f} > {now:.2f} > {after:.2f}  strikes {strikes_was:.2f} > {strikes_now:.2f} > "
        f"{strikes_after:.2f}  drums {drums_lu(song, 0.0):+.1f} > {drums_lu(song, DRUMS_DB):+.1f} LU"
    )
    return bool(seen), bool(named), bool(named) and back, words


def tall(records: Records) -> tuple[int, float]:
    record = records[Crest]
    assert isinstance(record, Crest)
    return sum(moment.value >= TALL_STRAY_DB for moment in record.stray_peaks), record.stray_height_db or 0.0


def stray_row(plain: Run, planted: Run) -> tuple[bool, bool, bool, str]:
    seen = [name for name, finding in findings(planted.judged) if name in RULES["strays"] and finding.cause == "peaks"]
    named = [step for step in planted.steps if step.remedy.kind == "peak_limiter"]
    (was, height_was), (now, height_now), (after, height_after) = (
        tall(records) for records in (plain.records, planted.records, planted.after)
    )
    heights = f"{height_was:.1f} > {height_now:.1f} > {height_after:.1f} dB"
    words = f"{seen[0] if seen else '-':<12} strays {was} > {now} > {after}, highest {heights}"
    return bool(seen), bool(named), bool(named) and after <= was, words


def row(fault: str, song: planting.Stems, plain: Run, planted: Run) -> tuple[bool, bool, bool, str]:
    if fault == "drums":
        return drum_row(song, plain, planted)
    return stray_row(plain, planted) if fault == "strays" else tone_row(fault, plain, planted)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--faults", nargs="*", choices=tuple(FAULTS), default=tuple(FAULTS))
    parser.add_argument("--only", nargs="*", default=None)
    options = parser.parse_args()
    folders = sorted(path for path in options.songs.iterdir() if (path / "stems").is_dir())
    songs = [planting.read_stems(path) for path in folders if options.only is None or path.name in options.only]
    if not songs:
        sys.exit("no song with stems in that folder")
    plain = {song.name: run(song.mix, song.rate_hz, advise=False) for song in songs}
    for fault in options.faults:
        chosen = [song for song in songs if song.has_drums or fault not in ("drums", "strays")]
        counts = np.zeros(3, int)
        print(f"\n{fault}")
        for song in chosen:
            planted = run(FAULTS[fault](song), song.rate_hz)
            *marks, words = row(fault, song, plain[song.name], planted)
            counts += np.array(marks, int)
            print(f"  {song.name:<14} {''.join('x' if mark else '.' for mark in marks)} {words} | {moves_of(planted.steps)}", flush=True)
        print(f"  reported {counts[0]}, plan names the place {counts[1]}, mended {counts[2]} of {len(chosen)} songs")


if __name__ == "__main__":
    main()
