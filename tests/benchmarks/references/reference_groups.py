"""Whether the songs of two real styles on one shelf are told apart, and one style alone is left whole.

    python -m tests.benchmarks.references.reference_groups --songs DIR --cache DIR [--styles NAME NAME]

Groups are compared with the collections the songs come from by the adjusted Rand index (1: the same, 0: chance).
"""

import hashlib
import random
from pathlib import Path

from sklearn.metrics import adjusted_rand_score

from advisor.references.grouping import Model, groups_of, make_model, name_of, song_name
from advisor.references.records import Reference
from tests.benchmarks.references.reference_songs import Known, all_known, parser

SUBSETS = 20


def shelf(songs: list[Known]) -> list[Reference]:
    """Return the songs as a shelf holds them."""
    return [
        Reference(hashlib.sha256(f"{song.package}/{song.name}".encode()).hexdigest(), song.name, song.name, song.song) for song in songs
    ]


def agreement(songs: list[Known], model: Model) -> float:
    references = shelf(songs)
    return float(adjusted_rand_score([song.package for song in songs], [model.labels[reference.sha256] for reference in references]))


def tell(words: str, songs: list[Known], *, two: bool) -> None:
    references = shelf(songs)
    model = make_model(references)
    tried = ", ".join(f"k={split.count}: {split.silhouette:.2f}/{split.stability:.2f}/{split.smallest}" for split in model.tried)
    rand = f"adjusted Rand index {agreement(songs, model):.2f}" if two else ""
    print(f"{words}: {len(songs)} songs -> {len(model.medoids)} group(s) {rand} [apart/stable/smallest: {tried}]")
    for group in groups_of(model, references) if len(model.medoids) > 1 else ():
        print(
            f"    group {group.number}, {len(group.songs)} songs around '{name_of(group)}', "
            f"against the others: {', '.join(group.shares) or '-'}"
        )


def same_however_ordered(songs: list[Known]) -> bool:
    """Whether other names and another order give the same groups with the same middle songs."""
    references = shelf(songs)
    plain = make_model(references)
    renamed = [Reference(reference.sha256, f"{number}.ogg", "elsewhere", reference.song) for number, reference in enumerate(references)]
    random.Random(7).shuffle(renamed)
    return make_model(renamed) == plain and all(song_name(reference).isdigit() for reference in renamed)


def subsets(first: list[Known], second: list[Known]) -> None:
    chance = random.Random(3)
    agreements, split = [], 0
    for _ in range(SUBSETS):
        songs = chance.sample(first, min(12, len(first))) + chance.sample(second, min(12, len(second)))
        model = make_model(shelf(songs))
        agreements.append(agreement(songs, model))
        split += len(model.medoids) > 1
    agreements.sort()
    print(f"12 + 12 songs drawn {SUBSETS} times: split {split} times")
    print(f"    adjusted Rand index: median {agreements[SUBSETS // 2]:.2f}, lowest {agreements[0]:.2f}")
    for songs_of_half in (first, second):
        alone = sum(len(make_model(shelf(chance.sample(songs_of_half, min(13, len(songs_of_half))))).medoids) > 1 for _ in range(SUBSETS))
        print(f"13 songs of {songs_of_half[0].package} alone, drawn {SUBSETS} times: split {alone} times")


def main() -> None:
    made = parser(__doc__.splitlines()[0])
    made.add_argument("--styles", nargs=2, default=("hyperrogue-music", "nexuiz-music"), help="two collections (orchestral, electronic)")
    asked = made.parse_args()
    songs = all_known(Path(asked.songs), Path(asked.cache))
    first, second = ([song for song in songs if song.package == name] for name in asked.styles)
    tell(f"{asked.styles[0]} and {asked.styles[1]}", first + second, two=True)
    print("renamed and in another order:", "the same groups and middle songs" if same_however_ordered(first + second) else "DIFFERENT")
    for package in sorted({song.package for song in songs}):
        alone = [song for song in songs if song.package == package]
        if len(alone) >= 12:
            tell(f"{package} alone", alone, two=False)
    subsets(first, second)


if __name__ == "__main__":
    main()
