"""Whether a change of 2 dB against an earlier bounce is named, with the bounce as one file and as stems.

    python -m tests.benchmarks.elements.planted_changes --songs DIR [--change 2.0]

DIR/SONG/stems/*.flac. The earlier bounce is the song as it is. In the present stems one element stands higher or lower: of each song the
loudest, the middle one and the softest of those that are audible, each both ways, written as files with a stems.toml that names the
earlier bounce, once as one stereo file of 16 bits at a level of its own and once as a folder of stems. Named: a finding of
`element_changed` about this element in the right direction. Others: findings of it about other elements.
"""

import argparse
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.measuring.measured import Measured
from advisor.stems.folder import open_stems
from features.records.elements import Elements
from rules.base import Finding, all_rules
from rules.shared.elements import inaudible
from tests.benchmarks.elements.planted_elements import load

Floats = NDArray[np.float64]

RULES = tuple(rule for rule in all_rules() if rule.id == "mixing/element_changed")


@dataclass(frozen=True, slots=True)
class Change:
    """What was said about one planted change."""

    song: str
    element: str
    in_mix_lu: float
    change_db: float
    way: str
    told_db: float | None
    others: int

    @property
    def named(self) -> bool:
        """Whether the element is named in the right direction."""
        return self.told_db is not None and self.told_db * self.change_db > 0.0


def findings(elements: Elements, changes_db: Mapping[str, float]) -> list[Finding]:
    """Return what the rule says of these changes."""
    accusations = tuple(
        replace(element, level_plan=replace(element.level_plan, since_earlier_db=changes_db.get(element.name)))
        for element in elements.elements
    )
    result = judge(Measured({Elements: replace(elements, elements=accusations)}, ()), yardstick_of(Settings()), RULES)
    return [its for card in result.cards for its in (card.finding, *(other for _, other in card.also))]


def chosen(elements: Elements) -> list[tuple[float, str]]:
    """Return the loudest, the middle and the softest of those that are heard."""
    levels = sorted(
        (element.level.in_mix_lu, element.name)
        for element in elements.elements
        if element.level.in_mix_lu is not None and not inaudible(element)
    )
    return list(dict.fromkeys(levels[place] for place in (-1, len(levels) // 2, 0)))


def write(folder: Path, stems: Mapping[str, Floats], rate_hz: int, subtype: str = "FLOAT") -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, samples in stems.items():
        soundfile.write(folder / f"{name}.wav", samples, rate_hz, subtype)


def changed(song: Path, change_db: float, place: Path) -> Iterator[Change]:
    """Plant both ways in three elements of a song."""
    elements = load(song).measured()
    read = {path.stem: soundfile.read(path, always_2d=True) for path in sorted((song / "stems").glob("*.flac"))}
    stems, rate_hz = {name: samples for name, (samples, _) in read.items()}, next(iter(read.values()))[1]
    mix = np.sum([np.broadcast_to(samples, (len(samples), 2)) for samples in stems.values()], axis=0)
    quieter = 0.7 / np.abs(mix).max()  # an earlier bounce at a level of its own
    soundfile.write(place / "earlier.wav", mix * quieter, rate_hz, "PCM_16")
    write(place / "earlier", stems, rate_hz)
    for in_mix_lu, name in chosen(elements):
        stem = name.removesuffix(" stem")
        for gain_db in (change_db, -change_db):
            write(place / "now", {**stems, stem: stems[stem] * 10 ** (gain_db / 20)}, rate_hz)
            for way, earlier in (("one file", "../earlier.wav"), ("stems", "../earlier")):
                (place / "now" / "stems.toml").write_text(f'earlier = "{earlier}"\n', encoding="utf-8")
                with open_stems(place / "now", None, Quiet()) as opened:
                    accusations = findings(elements, {} if opened.earlier is None else opened.earlier.changes_db)
                own = [finding.numbers for finding in accusations if finding.stem == name]
                signed = (float(own[0]["change_db"]) * (1 if own[0]["direction"] == "louder" else -1)) if own else None
                yield Change(song.name, name, in_mix_lu, gain_db, way, signed, len(accusations) - len(own))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--change", type=float, default=2.0)
    given = parser.parse_args()
    done: list[Change] = []
    for song in sorted(path for path in given.songs.iterdir() if (path / "stems").is_dir()):
        with tempfile.TemporaryDirectory() as place:
            done += changed(song, given.change, Path(place))
    for change in done:
        if not change.named or change.others:
            sentence = "not named" if change.told_db is None else f"told {change.told_db:+.1f} dB"
            print(
                f"{change.song:15s} {change.element:18s} {change.in_mix_lu:6.1f} LU {change.change_db:+.1f} dB, {change.way}: "
                f"{sentence}, {change.others} others"
            )
    for way in ("one file", "stems"):
        some = [change for change in done if change.way == way]
        errors = [abs(change.told_db - change.change_db) for change in some if change.told_db is not None and change.named]
        print(
            f"{way:9s} {sum(change.named for change in some)} of {len(some)} named ({np.mean([change.named for change in some]):.0%}), "
            f"error {np.mean(errors):.2f} dB (most {max(errors):.2f}), {sum(change.others for change in some)} others accused"
        )


if __name__ == "__main__":
    main()
