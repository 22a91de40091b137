"""Whether an element that was moved is named, in the right direction, by how much, and who else is accused.

    python -m tests.benchmarks.elements.planted_elements --songs DIR [--only SONG ...] [--kept-out SONG ...]

DIR/SONG/stems/*.flac; the stems are the whole mix. Each element is moved by ±6, ±9 and ±12 dB, and down by 24 dB; nothing is said about
what was meant. The traces of a song are measured once: a plant is a gain on one of them (the mix's K-weighted energy follows with powers
that add), then everything about levels, masking, kick and bass is measured and judged again by all rules of the mixing stage that look
at elements alone. Elements that are inaudible as they are, are not moved.

Named: among the first three findings about an element there is one about this one, and its move goes the other way than the plant.
New others: elements that are accused now and are not without the plant. Error: of how far off it is said to be, and of the move that is
advised at once, which is no more than 6 dB. Inaudible: share heard below the limit of `rules.shared.elements`, after the plant.
The limits were set on the songs that are not kept out.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, judge
from advisor.measuring.measured import Measured
from advisor.stems.folder import open_stems
from advisor.stems.measuring import Traces, trace_song
from features.elements.dynamics.envelope import EnvelopeTrace
from features.elements.groups.kick_and_bass import measure_kick_and_bass
from features.elements.identity import Identity
from features.elements.levels.levels import k_energy
from features.elements.measure import measure_elements
from features.elements.meter import ElementTrace
from features.records.elements import Elements, KickAndBass
from features.tone.target import general_target
from rules.base import all_rules
from rules.shared.elements import INAUDIBLE_SHARE, inaudible

KEPT_OUT = ("final-step", "pingus-3", "reggaeton-try", "song02")
GAINS_DB = (-24.0, -12.0, -9.0, -6.0, 6.0, 9.0, 12.0)
FIRST = 3
RULES = tuple(rule for rule in all_rules() if rule.stage == "mixing" and rule.looks_at == (Elements,))


@dataclass(frozen=True, slots=True)
class Song:
    """A song's elements and their traces."""

    name: str
    identities: tuple[Identity, ...]
    traces: Traces

    def measured(self, element: str = "", gain_db: float = 0.0) -> Elements:
        """Return everything that faders change, with one of them moved."""
        traces, envelopes, mix = dict(self.traces.elements), dict(self.traces.envelopes), self.traces.mix
        if gain_db:
            before = traces[element]
            traces[element], envelopes[element] = moved(before, gain_db), moved_envelope(envelopes[element], gain_db)
            mix = replace(mix, k_energy=_summed(mix, before, traces[element]))
        elements = measure_elements(self.identities, traces, mix, None, general_target().record)
        return replace(elements, kick_and_bass=_kick_and_bass(elements, envelopes))


@dataclass(frozen=True, slots=True)
class Plant:
    """One plant and what was said."""

    song: str
    element: str
    gain_db: float
    named: bool
    new_others: int
    said_error_db: float | None
    move_error_db: float | None
    inaudible: bool


def moved(trace: ElementTrace, gain_db: float) -> ElementTrace:
    power = 10 ** (gain_db / 10)
    left = trace.left * np.float32(power)
    right = left if trace.left is trace.right else trace.right * np.float32(power)
    return replace(
        trace, left=left, right=right, thirds=trace.thirds * np.float32(power), k_energy=trace.k_energy * power,
        energy=trace.energy * power, peak=trace.peak * np.float32(power**0.5),
    )  # fmt: skip


def moved_envelope(trace: EnvelopeTrace, gain_db: float) -> EnvelopeTrace:
    gain = np.float32(10 ** (gain_db / 20))
    return replace(trace, peak=trace.peak * gain, mean_square=trace.mean_square * gain**2, low=trace.low * gain)


def _summed(mix: ElementTrace, before: ElementTrace, after: ElementTrace) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    energy = mix.k_energy.copy()
    both = min(len(energy), len(before.k_energy))
    energy[:both] += (k_energy(after, mix.channels) - k_energy(before, mix.channels))[:both]
    return np.maximum(energy, 1e-14)


def _kick_and_bass(elements: Elements, envelopes: dict[str, EnvelopeTrace]) -> KickAndBass | None:
    names = []
    for role in ("kick", "bass"):
        playing = [
            (element.level.integrated_lufs, element.name)
            for element in elements.elements
            if element.role == role and element.level.integrated_lufs
        ]
        if not playing:
            return None
        names.append(max(playing)[1])
    return measure_kick_and_bass(envelopes[names[0]], envelopes[names[1]], *names)


def load(folder: Path) -> Song:
    with open_stems(folder / "stems", None, Quiet()) as stems:
        return Song(folder.name, tuple(stem.identity for stem in stems.stems), trace_song(stems, stems.sum_source, Quiet()))


def accusations(elements: Elements) -> list[Card]:
    result = judge(Measured({Elements: elements}, ()), yardstick_of(Settings()), RULES)
    assert not result.failed, result.failed
    return [card for card in result.cards if card.finding.stem is not None]


def planted(song: Song) -> Iterator[Plant]:
    """Move every audible element by every gain."""
    before = song.measured()
    accused = {card.finding.stem for card in accusations(before)}
    for moved in before.elements:
        if moved.silent or moved.copy_of is not None or inaudible(moved):
            continue
        for gain_db in GAINS_DB:
            after = song.measured(moved.name, gain_db)
            cards = accusations(after)
            others = {card.finding.stem for card in cards} - accused - {moved.name}
            hit = next((errors for card in cards[:FIRST] if (errors := _errors(card, moved.name, gain_db)) is not None), None)
            share = next(element.masking.audible_share for element in after.elements if element.name == moved.name)
            said, move = (None, None) if hit is None else hit
            yield Plant(song.name, moved.name, gain_db, hit is not None, len(others), said, move, (share or 0.0) < INAUDIBLE_SHARE)


def _errors(card: Card, name: str, gain_db: float) -> tuple[float | None, float | None] | None:
    """Return errors of what is said and of the move where the card is about this element in the right direction; else None."""
    finding = card.finding
    moves = [
        remedy.gain_db
        for remedy in (finding.remedy, *finding.others)
        if remedy is not None and remedy.kind == "gain" and remedy.part == name
    ]
    if finding.stem != name:
        return None
    if not moves or moves[0] is None or moves[0] * gain_db > 0.0:
        return (None, None) if gain_db < 0.0 and card.rule.id == "mixing/element_covered" else None
    said = finding.numbers.get("off_db")
    return (abs(float(said) - abs(gain_db)) if said is not None else None), abs(abs(moves[0]) - abs(gain_db))


def table(plants: Sequence[Plant], songs: Sequence[Song]) -> None:
    rows: dict[float, list[Plant]] = defaultdict(list)
    for plant in plants:
        rows[plant.gain_db].append(plant)
        rows[abs(plant.gain_db)] += [] if plant.gain_db > 0.0 else [plant]
    print("   plant     n  named in the first 3  new others  error said, moved  inaudible: named")
    for gain_db in (6.0, 9.0, 12.0):
        up, down = ([plant for plant in plants if plant.gain_db == side * gain_db] for side in (1.0, -1.0))
        for label, chosen in ((f"+{gain_db:.0f} dB", up), (f"-{gain_db:.0f} dB", down), (f"±{gain_db:.0f} dB", [*up, *down])):
            print(_row(label, chosen))
    print(_row("-24 dB", [plant for plant in plants if plant.gain_db == -24.0]))
    natural = {
        song.name: [f"{card.finding.stem} ({card.rule.id.split('/')[1]})" for card in accusations(song.measured())] for song in songs
    }
    print(f"as they are: {sum(map(len, natural.values())) / len(natural):.2f} accusations a song")
    for name, plants_told in natural.items():
        print(f"   {name:16s} {', '.join(plants_told) or '-'}")


def _row(label: str, plants: Sequence[Plant]) -> str:
    said = [plant.said_error_db for plant in plants if plant.said_error_db is not None]
    move = [plant.move_error_db for plant in plants if plant.move_error_db is not None]
    gone = [plant for plant in plants if plant.inaudible]
    errors = f"{np.mean(said) if said else np.nan:4.1f} {np.mean(move) if move else np.nan:4.1f} dB"
    named, others = np.mean([plant.named for plant in plants]), np.mean([plant.new_others for plant in plants])
    counts = f"{len(plants):5d}  {named:18.0%}  {others:10.2f}"
    return f"{label:>8s} {counts}  {errors:>17s}  {sum(plant.named for plant in gone):3d} of {len(gone)}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--kept-out", nargs="*", default=KEPT_OUT)
    chosen = parser.parse_args()
    folders = sorted(path for path in chosen.songs.iterdir() if (path / "stems").is_dir() and (not chosen.only or path.name in chosen.only))
    songs = [load(folder) for folder in folders]
    plants = [plant for song in songs for plant in planted(song)]
    for title, kept_out in (("songs on which the limits were set", False), ("songs kept out", True)):
        some = [song for song in songs if (song.name in chosen.kept_out) == kept_out]
        if some:
            print(f"\n{title}: {', '.join(song.name for song in some)}")
            table([plant for plant in plants if plant.song in {song.name for song in some}], some)
    if len(songs) > 1:
        print("\nall")
        table(plants, songs)


if __name__ == "__main__":
    main()
