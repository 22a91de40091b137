"""Whether every fader, pan and equaliser move between two bounces is told of the right element, with the right amount, and no other.

    python -m tests.benchmarks.history.element_moves --songs DIR [--only SONG ...]

DIR/SONG/stems/*.flac. Single moves: each element's fader, pan and a bell (Q 1, at its strongest third octave), ±1 to ±12 dB. Then five
bounces with seeded random moves of one to three elements, all at once, the whole mix moved by up to 2 dB besides. What is told is checked
against what was done: a fader to 0.1 dB, a pan to 0.3 dB, an equaliser to 0.7 dB at its strongest third octave (a third octave averages the
top of a bell), and every other element untouched.
"""

import argparse
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.history.elements import ComparedElements, compare_elements
from advisor.report_model.history import ElementChange
from features.elements.fingerprint import Fingerprint, fingerprint_of
from features.elements.meter import trace_of
from features.processors.equalisers import eq
from features.processors.placement.pan import pan
from features.sound.bands import third_octaves
from features.sound.load import open_source
from features.sound.signal import Signal
from tests.advisor.history.bounces import bounce

KEPT_OUT = ("pingus-3", "song02")
GAINS_DB = (-12.0, -6.0, -3.0, -1.0, 1.0, 3.0, 6.0, 12.0)
PANS_DB = (-6.0, -2.0, 2.0, 6.0)
BELLS_DB = (-9.0, -4.0, 4.0, 9.0)
BELL_Q = 1.0
FADER_DB, PAN_DB, BELL_DB = 0.1, 0.3, 0.7
BOUNCES = 5
REPORT = bounce(1)


@dataclass(frozen=True, slots=True)
class Move:
    """What is done to one element."""

    gain_db: float = 0.0
    pan_db: float = 0.0
    bell_db: float = 0.0

    @property
    def words(self) -> str:
        return "fader" if self.gain_db else "pan" if self.pan_db else "bell"


def moved(sound: Signal, move: Move, bell_hz: float) -> Signal:
    if move.bell_db:
        sound = eq.bell(sound, bell_hz, move.bell_db, BELL_Q)
    if move.pan_db:
        sound = pan(sound, move.pan_db)
    return Signal(sound.samples * np.float32(10 ** (move.gain_db / 20)), sound.rate_hz)


def strongest_hz(prints: Fingerprint) -> float:
    levels = np.array(prints.spectra_db)
    mean = (10 ** (levels / 10)).mean(axis=0)
    centres = third_octaves(192000).centre_hz[: len(mean)]
    inside = np.flatnonzero((centres > 100.0) & (centres < 8000.0))
    return float(centres[inside[np.argmax(mean[inside])]])


def is_right(change: ElementChange, move: Move) -> bool:
    if change.state not in ("moved", "untouched") or change.fader_db is None or abs(change.fader_db - move.gain_db) > FADER_DB:
        return False
    if abs((change.pan_db or 0.0) - move.pan_db) > PAN_DB:
        return False
    compared_elements = change.bands[0].change_db if change.bands else 0.0
    return abs(compared_elements - move.bell_db) <= BELL_DB if move.bell_db else not change.bands


def check(compared_elements: ComparedElements, moves: Mapping[str, Move]) -> tuple[bool, int, int]:
    """Return whether all moves are told rightly, and how many of the others are untouched, of how many."""
    by_name = {change.was: change for change in compared_elements.changes}
    right = all(is_right(by_name[name], move) for name, move in moves.items())
    others = [change for name, change in by_name.items() if name not in moves]
    return right, sum(change.state == "untouched" for change in others), len(others)


class Song:
    """The stems of a song and their fingerprints as they are."""

    def __init__(self, folder: Path) -> None:
        self.name = folder.name
        self.sounds: dict[str, Signal] = {}
        for path in sorted((folder / "stems").glob("*.flac")):
            with open_source(path) as opened:
                source = opened.source
                self.sounds[path.stem] = Signal(np.array(source.read(0, source.frames), np.float32), source.rate_hz)
        self.prints = {name: fingerprint_of(name, trace_of(sound)) for name, sound in self.sounds.items()}
        self.bell_hz = {name: strongest_hz(element) for name, element in self.prints.items()}

    def after(self, moves: Mapping[str, Move]) -> tuple[Fingerprint, ...]:
        """Return the fingerprints with these moves made."""
        made = {name: moved(self.sounds[name], move, self.bell_hz[name]) for name, move in moves.items()}
        return tuple(fingerprint_of(name, trace_of(made[name])) if name in made else element for name, element in self.prints.items())


def compared(before: Sequence[Fingerprint], after: Sequence[Fingerprint]) -> ComparedElements:
    compared_elements = compare_elements(before, after, REPORT, REPORT)
    assert compared_elements is not None
    return compared_elements


def single_moves(song: Song, counts: Counter[str]) -> None:
    moves = [
        *(Move(gain_db=gain) for gain in GAINS_DB),
        *(Move(pan_db=gain) for gain in PANS_DB),
        *(Move(bell_db=gain) for gain in BELLS_DB),
    ]
    for name in song.prints:
        for move in moves:
            compared_elements = compared(tuple(song.prints.values()), song.after({name: move}))
            count(song, compared_elements, {name: move}, counts, move.words)


def chain(song: Song, counts: Counter[str]) -> None:
    """Make five bounces, each told against the one before."""
    random = np.random.default_rng(len(song.name))
    before = tuple(song.prints.values())
    stands = dict.fromkeys(song.prints, Move())
    for _ in range(BOUNCES):
        names = random.choice(sorted(stands), min(int(random.integers(1, 4)), max((len(stands) - 1) // 2, 1)), replace=False)
        changed = {str(name): Move(gain_db=float(random.choice(GAINS_DB))) for name in names}
        whole_db = float(random.uniform(-2, 2))
        stands = {name: replace(stand, gain_db=stand.gain_db + changed.get(name, Move()).gain_db) for name, stand in stands.items()}
        after = song.after({name: replace(stand, gain_db=stand.gain_db + whole_db) for name, stand in stands.items()})
        count(song, compared(before, after), changed, counts, "chain")
        before = song.after(stands)


def count(song: Song, compared_elements: ComparedElements, moves: Mapping[str, Move], counts: Counter[str], kind: str) -> None:
    right, untouched, others = check(compared_elements, moves)
    counts.update({f"{kind}: moves": 1, f"{kind}: right": right, f"{kind}: others": others, f"{kind}: untouched": untouched})
    if not right or untouched < others:
        wrong = [
            (element.was, element.state, element.fader_db, element.pan_db, element.bands[:1])
            for element in compared_elements.changes
            if element.was in moves or element.state != "untouched"
        ]
        print(f"{song.name}: {kind} {dict(moves)} told as {wrong}", flush=True)


def main() -> None:
    """Make the moves, compare, and count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--only", nargs="*", default=())
    given = parser.parse_args()
    folders = [path for path in sorted(given.songs.iterdir()) if (path / "stems").is_dir() and path.name not in KEPT_OUT]
    counts: Counter[str] = Counter()
    for folder in folders:
        if not given.only or folder.name in given.only:
            song = Song(folder)
            single_moves(song, counts)
            chain(song, counts)
    for kind in ("fader", "pan", "bell", "chain"):
        moves, others = counts[f"{kind}: moves"], counts[f"{kind}: others"]
        print(f"{kind}: {counts[f'{kind}: right']} of {moves} right; {counts[f'{kind}: untouched']} of {others} others untouched")


if __name__ == "__main__":
    main()
