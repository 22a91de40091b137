"""Faults from other causes than our own: how many are found, way by way, and the worst way of each.

    python -m tests.benchmarks.causes --songs DIR [--cache DIR] [--only SONG ...] [--causes TEXT ...] [--without RULE ...]
                                        [--leave-out SONG ...] [--misses] [--rows FILE]

DIR/SONG/stems/*.flac; 50 s of each, with a clean beginning and end; the mix is the sum of the stems. Each cause is planted in several ways
by different code (`gains.py`, `elements.py`, `catalogue.py`), measured without the limiter outlook, and judged without any trial.
Found: a finding of a right rule among all cards, about a planted element where the cause is one of elements and stems are given; sure:
of medium or high confidence. Before: songs of which the same is said as they are. New: findings of medium or high confidence that the
song as it is does not have, a plant.

What it came to on eight songs (found, of these sure; before, with the rules as they were): pulses on everything 5 to 7 of 8, all sure but
two (none), on all but the drums 2 to 5 of 8; alternating passages of 4 to 8 dB 8 of 8, sure 4 to 8 (found 6 to 8, sure 0 to 8), on all
but the drums none; kick and bass late against each other 10 of 10, where the delay cancels at all (the same, with flipping advised first).
Lost lows and highs, and dulled elements, are as they were: of a song that had few to begin with neither a stereo file nor a stem can tell.
"""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from advisor.judging.judge import Judged
from rules.base import Finding
from tests.benchmarks.causes.catalogue import CAUSES, Cause, element_of
from tests.benchmarks.causes.measuring import judged_of, song_of
from tests.benchmarks.diagnosis.scoring import SURE, findings


@dataclass(frozen=True, slots=True)
class Tried:
    """One plant: what was said of it, and of the song as it is."""

    cause: str
    way: str
    given: str
    song: str
    after: str
    before: str
    new: tuple[str, ...]


def told(judged: Judged) -> list[tuple[str, Finding]]:
    return [pair for card in judged.cards for pair in findings(card)]


def surest(cause: Cause, judged: Judged, elements: frozenset[str], given: str) -> str:
    """Return the highest confidence with which a right rule speaks of the right element; empty where none does."""
    hits = [
        finding.confidence
        for name, finding in told(judged)
        if name in cause.names and (given == "stereo" or not cause.of_element or finding.stem is None or finding.stem in elements)
    ]
    return min(hits, key=("high", "medium", "low").index, default="")


def tries(folder: Path, causes: Sequence[Cause], cache: Path | None, without: Sequence[str]) -> Iterator[Tried]:
    song = song_of(folder)
    plain = judged_of(song, "as it is", stems=any("stems" in cause.given for cause in causes), cache=cache, without=without)
    for cause in causes:
        for way, plant in cause.ways.items():
            planted = plant(song)
            if planted is None:
                continue
            elements = element_of(song, planted)
            after = judged_of(replace(song, stems=planted), f"{cause.id}|{way}", stems="stems" in cause.given, cache=cache, without=without)
            for given in cause.given:
                yield Tried(
                    cause.id, way, given, song.name, surest(cause, after[given], elements, given),
                    surest(cause, plain[given], elements, given), newly_sure(cause, plain[given], after[given]),
                )  # fmt: skip


def newly_sure(cause: Cause, plain: Judged, after: Judged) -> tuple[str, ...]:
    """Return the rules that are sure of what they did not say of the song as it is, but for those that name the cause."""
    known = {(name, finding.stem) for name, finding in told(plain)}
    return tuple(
        name for name, finding in told(after)
        if finding.confidence in SURE and name not in cause.names and (name, finding.stem) not in known
    )  # fmt: skip


def table(rows: Sequence[Tried], *, misses: bool) -> None:
    for cause, given, way in dict.fromkeys((row.cause, row.given, row.way) for row in rows):
        chosen = [row for row in rows if (row.cause, row.given, row.way) == (cause, given, way)]
        after, before = [row.after for row in chosen], [row.before for row in chosen]
        sure, sure_before = (sum(confidence in SURE for confidence in said) for said in (after, before))
        new = sum(len(row.new) for row in chosen) / len(chosen)
        print(
            f"{cause:32s} {given:7s} {way:28s} found {sum(map(bool, after)):2d}/{len(chosen):2d}, sure {sure:2d}; "
            f"before {sum(map(bool, before))}, sure {sure_before}; new {new:.1f}"
        )
        for row in chosen if misses else ():
            print(f"      {row.song}: {row.after or 'MISSED'}; new: {', '.join(row.new) or '-'}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--cache", type=Path, default=None)
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--leave-out", nargs="*", default=())
    parser.add_argument("--causes", nargs="*", default=(), help="only causes whose names hold one of these")
    parser.add_argument("--without", nargs="*", default=(), metavar="RULE", help="judge without these rules")
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--rows", type=Path, default=None, help="keep every plant's row here, song by song")
    chosen = parser.parse_args()
    folders = sorted(path for path in chosen.songs.iterdir() if (path / "stems").is_dir()) if chosen.songs.is_dir() else []
    folders = [path for path in folders if path.name not in chosen.leave_out and (not chosen.only or path.name in chosen.only)]
    if not folders:
        sys.exit("no song with stems in that folder: nothing is planted")
    causes = [cause for cause in CAUSES if not chosen.causes or any(words in cause.id for words in chosen.causes)]
    rows: list[Tried] = []
    for folder in folders:
        rows += tries(folder, causes, chosen.cache, chosen.without)
        if chosen.rows is not None:
            chosen.rows.write_text(json.dumps([asdict(row) for row in rows], indent=1) + "\n")
    table(rows, misses=chosen.misses)


if __name__ == "__main__":
    main()
