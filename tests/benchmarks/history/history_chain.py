"""A chain of five bounces of each song, faults put in and taken out one at a time: the story the history tells, and whether it is true.

python -m tests.benchmarks.history.history_chain --songs DIR [--song NAME ...]

DIR holds one folder a song with its stems in `stems/`; the mix is their sum. The faults are put in with numpy and scipy alone. Each bounce
is critiqued in full, and recorded in one project in a home of its own under the temporary folder. Prints, for each fault, how much of it
every bounce has, what the history says became of it, and whether that is true; and what became of the plans' steps.
A fault that a song has by itself, or that the rules do not report in it, is said so and not counted. Where a rule is quiet in one bounce
although the fault is there ("quiet": inside its limit beside the other faults), the history can only tell of what was found.
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from advisor.app.settings import Settings
from advisor.critique import CritiqueInputs, critique
from advisor.history.recorder import Recorder
from advisor.report_model.codec import to_json
from tests.benchmarks.plans.planting import Floats, Stems, bell, low_shelf, read_stems, strays, write

Document = dict[str, Any]

PROJECT = "Chain"
RESONANCE_HZ = 1100.0
SETTINGS = Settings(audition=False)


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: the rules that may find it, and how much of it each of the five bounces has."""

    name: str
    rules: tuple[str, ...]
    amounts_db: tuple[float, ...]
    near_hz: float | None = None


FAULTS = (
    Fault("one side down", ("mixing/left_right_imbalance",), (4.0, 2.5, 0.0, 0.0, 3.0)),
    Fault("low shelf up", ("mixing/sub_excess",), (14.0, 14.0, 14.0, 0.0, 0.0)),
    Fault("narrow resonance", ("mixing/resonance", "mixing/broad_excess"), (0.0, 10.0, 10.0, 0.0, 0.0), RESONANCE_HZ),
    Fault("stray peaks", ("mixing/stray_peaks",), (0.0, 0.0, 12.0, 12.0, 0.0)),
)


def bounce(song: Stems, place: int) -> Floats:
    """Return one bounce: the sum of the stems with that bounce's faults."""
    lean, shelf, ring, stray = (fault.amounts_db[place] for fault in FAULTS)
    mix = strays(song, stray)[0] if stray else song.mix
    if shelf:
        mix = low_shelf(mix, song.rate_hz, 60.0, shelf)
    if ring:
        mix = bell(mix, song.rate_hz, RESONANCE_HZ, ring, 12.0)
    return mix * np.array([1.0, 10.0 ** (-lean / 20.0)]) if lean else mix


def expected(amounts: tuple[float, ...], place: int) -> tuple[str, ...]:
    """Return the states that are true of a fault in one bounce."""
    now, before = amounts[place], amounts[place - 1] if place else 0.0
    if now == 0.0:
        return ("solved",) if before else ("-",)
    if before == 0.0:
        return ("came back",) if any(amounts[:place]) else ("new",)
    if now == before:
        return ("still there", "better", "worse")  # the other faults move its reading a little
    return ("worse", "still there") if now > before else ("better", "still there")


def reported(report: Document, fault: Fault) -> bool:
    """Whether the report itself has a finding of this fault."""
    findings = [finding for card in report["findings"] for finding in (card, *card["also"])]
    return any(finding["rule"] in fault.rules and is_near(finding["band_hz"], fault) for finding in findings)


def is_near(band: list[float] | None, fault: Fault) -> bool:
    """Whether a finding's band is where the fault is."""
    return fault.near_hz is None or (band is not None and band[0] / 1.1 <= fault.near_hz <= band[1] * 1.1)


def state_of(history: Document, fault: Fault) -> str:
    """Return the state the history tells of a fault; `-` where it says nothing."""
    for finding in history["findings"]:
        if finding["rule"] in fault.rules and is_near(finding["band_hz"], fault):
            return str(finding["state"])
    return "-"


def chain(song: Stems, folder: Path) -> Iterator[Document]:
    """Critique the five bounces and yield their reports."""
    for place in range(len(FAULTS[0].amounts_db)):
        path = folder / f"{song.name}-{place + 1}.wav"
        write(path, bounce(song, place), song.rate_hz)
        project = Recorder(PROJECT, lambda: datetime.now(UTC), folder / "home")
        yield json.loads(to_json(critique(path, SETTINGS, inputs=CritiqueInputs(project=project)).report))
        path.unlink()


def own_rules(song: Stems, folder: Path) -> set[str]:
    """Return what the song has by itself."""
    path = folder / f"{song.name}-clean.wav"
    write(path, song.mix, song.rate_hz)
    report = critique(path, Settings(audition=False, quick=True)).report
    path.unlink()
    return {finding.rule for card in report.findings for finding in (card, *card.also)}


def run(folder: Path, show: Callable[[str], object]) -> tuple[int, int]:
    """Print one song's story; return how many statements were counted and how many of them are true."""
    song = read_stems(folder)
    counted = true = 0
    with tempfile.TemporaryDirectory() as place:
        own = own_rules(song, Path(place))
        reports = list(chain(song, Path(place)))
    histories = [report["history"] for report in reports]
    show(f"\n{song.name}")
    for fault in FAULTS:
        states = [state_of(history, fault) for history in histories]
        reported_each = [reported(report, fault) for report in reports]
        audible_db = tuple(amount if there else 0.0 for amount, there in zip(fault.amounts_db, reported_each, strict=True))
        left_out = "the song has it by itself" if own & set(fault.rules) else "never reported" if set(states) == {"-"} else ""
        cells = []
        for number, state in enumerate(states):
            right = state in expected(audible_db, number)
            quiet = " quiet" if fault.amounts_db[number] and not reported_each[number] else ""
            if not left_out:
                counted, true = counted + 1, true + right
            cells.append(f"{fault.amounts_db[number]:>4.0f} dB {state}{quiet}{'' if right or left_out else ' (FALSE)'}")
        show(f"  {fault.name:17} | {' | '.join(f'{cell:26}' for cell in cells)} {left_out}")
    for history in histories[1:]:
        for step in history["steps"]:
            share = "-" if step["share"] is None else f"{step['share']:.2f}"
            show(
                f"  bounce {history['number'] - 1}, step {step['step']} {step['title']}: {step['verdict']} (share {share}, {step['sure']})"
            )
        for warning in history["warnings"]:
            show(f"  bounce {history['number']} warns: {warning['kind']} {warning['title'] or ''} {warning['move'] or ''}")
    return counted, true


def main() -> int:
    """Run the chains and print how much of what was told is true."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n", maxsplit=1)[0])
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--song", action="append", default=[])
    given = parser.parse_args()
    folders = [
        folder for folder in sorted(given.songs.iterdir()) if (folder / "stems").is_dir() and (not given.song or folder.name in given.song)
    ]
    counts = [run(folder, print) for folder in folders]
    counted, true = (sum(column) for column in zip(*counts, strict=True)) if counts else (0, 0)
    print(f"\n{true} of {counted} statements about planted faults are true.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
