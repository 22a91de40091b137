"""How often a comparison with few references cries wolf, and how often it notices what is really there.

    python -m tests.benchmarks.references.reference_alarms --songs DIR --cache DIR

Shelves of n songs are drawn from finished songs, and every other song of the set is held against them, by the statistics of the
report. Songs of a set are taken for one kind; they are in fact of several, which makes every rate here harder to keep.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from features.comparison.moderated_statistics import Standing, level_of, more_unusual_than, sample_variance, standing
from features.comparison.prior_spread import priors
from features.records.headline import FEATURES
from tests.benchmarks.references.reference_songs import PLANTS_DB, Known, all_known, parser

SIZES = (3, 5, 8, 12, 30)
DRAWS = 150
NOTICED = ("noticeable", "outside")
HELD_OUT = 12
PRIORS = {name: prior.spread for name, prior in priors().items()}
Row = dict[str, float]


def row(song: Known, shelf_db: float = 0.0) -> Row:
    headline = (song.shelved[shelf_db] if shelf_db else song.song).headline
    return {feature.name: value for feature in FEATURES if (value := getattr(headline, feature.name)) is not None}


def standings(song: Row, others: Sequence[Row]) -> dict[str, Standing]:
    by_name = {}
    for name, value in song.items():
        theirs = [other[name] for other in others if name in other]
        if theirs:
            by_name[name] = standing(value, theirs, PRIORS[name])
    return by_name


@dataclass
class Counts:
    tried: int = 0
    any_outside: int = 0
    most_unusual: int = 0
    outside: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PRIORS, 0))
    noticed: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PRIORS, 0))


def sizes(songs: list[Known]) -> list[int]:
    """Return the sizes of shelves that leave at least four songs to be held against them."""
    return [size for size in SIZES if size + 4 <= len(songs)]


def draws(songs: list[Known], size: int) -> list[tuple[list[Known], list[Known]]]:
    chance = random.Random(size)
    made = []
    for _ in range(DRAWS):
        mixed = chance.sample(songs, len(songs))
        made.append((mixed[:size], mixed[size : size + HELD_OUT]))
    return made


def count_alarms(songs: list[Known], size: int) -> Counts:
    counts = Counts()
    for shelf, held_out in draws(songs, size):
        others = [row(song) for song in shelf]
        for song in held_out:
            by_name = standings(row(song), others)
            levels = {name: level_of(standing_now, len(by_name)) for name, standing_now in by_name.items()}
            far = [name for name, level in levels.items() if level == "outside"]
            counts.tried += 1
            counts.any_outside += bool(far)
            vectors = [[readings.get(name) for name in PRIORS] for readings in (row(song), *others)]
            counts.most_unusual += more_unusual_than(vectors[0], vectors[1:], list(PRIORS.values())) == size
            for name, level in levels.items():
                counts.outside[name] += level == "outside"
                counts.noticed[name] += level in NOTICED
    return counts


def alarms(songs: list[Known]) -> None:
    print("False alarms on held-out songs of the same set, in % (at most 6):")
    print("songs on the shelf | any 'clearly outside' | worst reading | further out than every reference (chance 1/(n+1))")
    counted = {size: count_alarms(songs, size) for size in sizes(songs)}
    for size, counts in counted.items():
        worst = max(counts.outside, key=lambda name: counts.outside[name])
        print(
            f"{size:3d} | {100 * counts.any_outside / counts.tried:5.1f} | {100 * counts.outside[worst] / counts.tried:5.1f} {worst}"
            f" | {100 * counts.most_unusual / counts.tried:5.1f} ({100 / (size + 1):.1f})"
        )
    print("\nPer reading: 'clearly outside' / 'further than nearly all of them', in % of held-out songs:")
    print("reading".ljust(22), *(f"n = {size}".rjust(13) for size in counted))
    for name in PRIORS:
        cells = [
            f"{100 * counts.outside[name] / counts.tried:.1f} / {100 * counts.noticed[name] / counts.tried:.1f}"
            for counts in counted.values()
        ]
        print(name.ljust(22), *(cell.rjust(13) for cell in cells))


def planted(songs: list[Known], size: int) -> None:
    print(f"\nOne reading moved by three times the shelf's own spread, n = {size}: noticed / clearly outside, in % (noticed at least 70):")
    for name in PRIORS:
        tried = noticed = outside = 0
        moved_by = []
        for shelf, held_out in draws(songs, size):
            others = [row(song) for song in shelf]
            own = sample_variance([other[name] for other in others if name in other]) ** 0.5
            moved_by.append(3 * own)
            for song in held_out:
                for sign in (-1, 1):
                    changed = row(song)
                    if name not in changed:
                        continue
                    changed[name] += sign * 3 * own
                    by_name = standings(changed, others)
                    tried += 1
                    level = level_of(by_name[name], len(by_name))
                    noticed += level in NOTICED
                    outside += level == "outside"
        usual = sorted(moved_by)[len(moved_by) // 2]
        print(f"{name:22s} {100 * noticed / tried:5.0f} / {100 * outside / tried:3.0f}   (moved by {usual:.2f}, median)")


def power(songs: list[Known]) -> None:
    print("\nA high shelf at 4 kHz on a held-out song: slope or 2-5 kHz noticed / clearly outside, in %:")
    print("gain".ljust(8), *(f"n = {size}".rjust(11) for size in sizes(songs)))
    for gain_db in PLANTS_DB:
        cells = []
        for size in sizes(songs):
            tried = noticed = outside = 0
            for shelf, held_out in draws(songs, size):
                others = [row(song) for song in shelf]
                for song in held_out:
                    by_name = standings(row(song, gain_db), others)
                    tone = [by_name[name] for name in ("tilt_db_per_octave", "ear_share") if name in by_name]
                    levels = [level_of(standing_now, len(by_name)) for standing_now in tone if standing_now.t_value > 0]
                    tried += 1
                    noticed += any(level in NOTICED for level in levels)
                    outside += "outside" in levels
            cells.append(f"{100 * noticed / tried:.0f} / {100 * outside / tried:.0f}")
        print(f"{gain_db:+.0f} dB".ljust(8), *(cell.rjust(11) for cell in cells))


def main() -> None:
    asked = parser(__doc__.splitlines()[0]).parse_args()
    songs = all_known(Path(asked.songs), Path(asked.cache))
    sets: dict[str, list[Known]] = {"all collections": songs}
    for package in sorted({song.package for song in songs}):
        chosen = [song for song in songs if song.package == package]
        if len(chosen) >= 14:
            sets[package] = chosen
    for name, chosen in sets.items():
        print(f"\n=== {name}: {len(chosen)} songs ===")
        alarms(chosen)
        planted(chosen, 8)
        power(chosen)


if __name__ == "__main__":
    main()
