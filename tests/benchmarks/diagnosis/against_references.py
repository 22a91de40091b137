"""Whether faults planted in finished songs are found, without references and with eight songs of the same collection.

    python -m tests.benchmarks.diagnosis.against_references --songs DIR [--cache DIR] [--sizes 1 2] [--only PACKAGE ...] [--faults NAME ...]
                                                    [--most COUNT] [--kept-only] [--misses] [--json FILE]

DIR holds one folder of songs per collection; those with nine songs or more are planted in, the others serve on wrong shelves. Of each
song the loudest 45 s are taken, given a clean beginning and end, and planted with one fault at a time as in `planted_faults.py`: those
faults that need no stems. Songs on the shelf are measured on their loudest 45 s too, so that like is held against like: an excerpt differs
more from whole songs than whole songs do from each other. Eight are drawn by the song's name, never the song or another version of it.

Left out: drums, leads and kicks moved, stray peaks and pumping need stems. A channel is inverted as a whole or not at all, so only
the gross size stands. "Just audible" is left out unless asked for: the songs were encoded with loss, so that a wall at 16 kHz is no fault.
Most of the songs are limited already and many decode above full scale: "over-compressed" and "clipped" are then a second helping, and
the songs accused of it as they are stand in the table.

Printed for no references, eight of the collection, and eight of other collections: the table of `planted_faults.py`, and what the songs
as they are are accused of.
"""

import argparse
import json
import random
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from advisor.judging.verdict import verdict
from tests.benchmarks.diagnosis import false_alarms
from tests.benchmarks.diagnosis.false_alarms import KEPT_OUT, JudgedSong
from tests.benchmarks.diagnosis.faults import FAULTS, Fault, Size
from tests.benchmarks.diagnosis.measured_records import Piece, Store, features_tree, records_of, sketch_of
from tests.benchmarks.diagnosis.planted_faults import said
from tests.benchmarks.diagnosis.scoring import Score, accuse, numbers, score
from tests.benchmarks.diagnosis.shelves import (
    SHELF,
    Finished,
    against_model,
    finished_songs,
    own_shelf,
    reference,
    target_from,
    wrong_shelf,
)

NEED_STEMS = frozenset(("drums buried", "stray peaks", "pumping"))
GROSS_ONLY = frozenset(("one side inverted",))
SHELVES: dict[str, Callable[[Finished, Sequence[Finished]], Sequence[Finished]]] = {
    "no references": lambda *_: (),
    "eight references": own_shelf,
    "eight of other collections": wrong_shelf,
}


def plants(chosen: Sequence[str], sizes: Sequence[Size]) -> list[tuple[Fault, Size]]:
    """Return what is planted: faults that need no stems, at the sizes that make sense here."""
    faults = [fault for fault in FAULTS if fault.id in chosen and not fault.stems and fault.id not in NEED_STEMS]
    return [(fault, size) for fault in faults for size in sizes if size == 2 or fault.id not in GROSS_ONLY]


def scores_of(
    song: Finished, shelf: Sequence[Finished], wanted: Sequence[tuple[Fault, Size]], store: Store
) -> tuple[list[Score], JudgedSong | None]:
    """Score a song's plants against a shelf, and tell what it is accused of as it is."""
    records = {member: records_of(store, Piece(member.name, member.opened), None, 0) for member in (song, *shelf)}
    before = records[song]
    if before is None or any(measured is None for measured in records.values()):
        return [], None
    references = [reference(member, its.records) for member, its in records.items() if member != song and its is not None]
    model = target_from([reference for reference in references if reference is not None])
    plain = against_model(before, model)
    piece = Piece(song.name, song.opened)
    done = []
    for fault, size in wanted:
        after = records_of(store, piece, fault, size)
        if after is not None:
            sketches = sketch_of(store, piece, None, 0), sketch_of(store, piece, fault, size)
            done.append(score(fault, size, song.name, frozenset(), plain, against_model(after, model), sketches))
    judged = accuse(plain, stems=False)
    return done, JudgedSong(song.package, song.path.stem, judged.cards, verdict(dict(plain.records), judged))


def drawn(songs: Sequence[Finished], most: int) -> list[Finished]:
    """Return the songs to plant in: of collections with enough for a shelf, at most so many of each, drawn with a fixed seed."""
    drawn_songs: list[Finished] = []
    for package in dict.fromkeys(song.package for song in songs):
        whole = [song for song in songs if song.package == package]
        if len(whole) > SHELF:
            drawn_songs += sorted(random.Random(package).sample(whole, len(whole))[:most], key=lambda song: song.name)
    return drawn_songs


def of_half(songs: Sequence[Finished], *, out: bool) -> list[Finished]:
    return [song for song in songs if (song.package in KEPT_OUT) == out]


def judged_with(
    shelf_of: Callable[[Finished, Sequence[Finished]], Sequence[Finished]],
    planted: Sequence[Finished],
    songs: Sequence[Finished],
    wanted: Sequence[tuple[Fault, Size]],
    store: Store,
) -> tuple[list[Score], list[JudgedSong]]:
    scores: list[Score] = []
    as_they_are: list[JudgedSong] = []
    for song in planted:
        song_scores, song_as_it_is = scores_of(song, shelf_of(song, songs), wanted, store)
        scores += song_scores
        as_they_are += [] if song_as_it_is is None else [song_as_it_is]
    return scores, as_they_are


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--cache", type=Path, default=None)
    parser.add_argument("--measured-by", default=None, help="take kept records of this state of features/ instead of the present one's")
    parser.add_argument("--kept-only", action="store_true", help="score what is kept and measure nothing")
    parser.add_argument("--sizes", type=int, nargs="*", default=(1, 2))
    parser.add_argument("--only", nargs="*", default=(), help="plant in these collections alone")
    parser.add_argument("--most", type=int, default=99, help="plant in at most so many songs of a collection")
    parser.add_argument("--faults", nargs="*", choices=[fault.id for fault in FAULTS], default=[fault.id for fault in FAULTS])
    parser.add_argument("--shelves", nargs="*", choices=list(SHELVES), default=list(SHELVES))
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--json", type=Path, default=None)
    chosen = parser.parse_args()
    songs = finished_songs(chosen.songs)
    planted = [song for song in drawn(songs, chosen.most) if not chosen.only or song.package in chosen.only]
    if not planted:
        sys.exit(f"no folder of that folder holds {SHELF + 1} songs: nothing is planted")
    store = Store(chosen.cache, chosen.measured_by or features_tree(), only=chosen.kept_only)
    wanted = plants(chosen.faults, chosen.sizes)
    document: dict[str, Any] = {}
    for name in chosen.shelves:
        halves = {}
        for half, out in (("set on", False), ("kept out", True)):
            halves[half] = judged_with(SHELVES[name], of_half(planted, out=out), of_half(songs, out=out), wanted, store)
            scores, as_they_are = halves[half]
            said(scores, f"{name}: songs {half}", misses=chosen.misses and not out)  # those kept out: as numbers alone
            false_alarms.said(as_they_are, f"{name}: the same songs as they are, {half}")
        document[name] = {
            "diagnosis": numbers(halves["set on"][0], halves["kept out"][0]),
            "as they are": {half: false_alarms.summary(alarms) for half, (_, alarms) in halves.items()},
        }
    if chosen.json is not None:
        chosen.json.write_text(json.dumps(document, indent=1) + "\n")


if __name__ == "__main__":
    main()
