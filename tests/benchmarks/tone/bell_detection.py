"""How many planted faults of tone and resonances are found in real songs, and how often something is found that nobody planted.

    python -m tests.benchmarks.tone.bell_detection --songs DIR [--leave-out collection] [--only COLLECTION ...] [--also COLLECTION ...]

DIR holds one folder of songs per collection. Each song is judged by a target made from the other songs (or the other
collections) of ``--only``; ``--also`` are judged by it and not in it. Faults are planted on the whole mix, in its spectrogram and in the
separation of 40 s from its middle, and judged twice: (a) by a matched filter for bells on the long-term spectrum alone, (b) by what is
used. A claim is a bell or a shelf above a threshold; false is each claim about a song in which nothing was planted. Found is a fault when
a right claim is among the three strongest: the right sign, a bell within a third of an octave or a shelf at the right end. The last rows
say what the rules make of it: findings about songs as they are, and faults named among the first three, in brackets with more than a hint.

What was tried and dropped is said in docs/target.md.
"""

import argparse
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from features.hits.separation import BandPower, PartCurves, separate, sixth_octaves
from features.records.balance import Balance, Bell, Shelf
from features.records.spectrum import Spectrum
from features.sound.spectrogram import Spectrogram
from features.tone.balance import measure_balance
from features.tone.matched_filter import bell_db, high_pass_db, high_shelf_db, low_shelf_db
from features.tone.spectrum import measure_spectrum
from features.tone.target import TargetModel
from tests.benchmarks.tables.make_target_table import SongSound, model_of, songs_in, sound_of
from tests.benchmarks.tone.tone_rules import accusations_of, names_it

Floats = NDArray[np.float64]
Response = Callable[[Floats], Floats]

RESONANCES_HZ = (200.0, 500.0, 1000.0, 2000.0, 4000.0)
FALSE_CLAIMS_A_SONG = (0.1, 0.3, 0.6)
PARTS_S = 40.0
TOP = 3


@dataclass(frozen=True)
class Fault:
    """A fault with its two sizes, clear and gross, and where a bell or shelf must stand to name it."""

    name: str
    sizes: tuple[Response, Response]
    sign: int
    band_hz: tuple[float, float]
    kinds: tuple[str, ...] = ()
    rules: tuple[str, ...] = ("broad_excess",)

    def named_by(self, claim: Bell | Shelf) -> bool:
        if sign_of(claim) != self.sign:
            return False
        if isinstance(claim, Shelf):
            return claim.kind in self.kinds
        return self.band_hz[0] <= claim.frequency_hz <= self.band_hz[1]


def third_around(hz: float) -> tuple[float, float]:
    return hz * 2 ** (-1 / 3 - 1e-9), hz * 2 ** (1 / 3 + 1e-9)


def two(response: Callable[..., Floats], hz: float, *gains_db: float) -> tuple[Response, Response]:
    clear, gross = (partial(response, corner_hz=hz, gain_db=gain_db) for gain_db in gains_db)
    return clear, gross


def bell_at(hz: float, *gains_db: float) -> tuple[Response, Response]:
    clear, gross = (partial(bell_db, centre_hz=hz, q=1.0, gain_db=gain_db) for gain_db in gains_db)
    return clear, gross


def passes(*corners_hz: float) -> tuple[Response, Response]:
    clear, gross = (partial(high_pass_db, corner_hz=hz) for hz in corners_hz)
    return clear, gross


LOWS = ("low_shelf", "high_pass")
FAULTS = (
    Fault("300 Hz +7/+11", bell_at(300.0, 7.0, 11.0), 1, third_around(300.0)),
    Fault("3.2 kHz +7/+11", bell_at(3200.0, 7.0, 11.0), 1, third_around(3200.0)),
    Fault("lows +8/+12", two(low_shelf_db, 60.0, 8.0, 12.0), 1, (20.0, 80.0), LOWS, ("sub_excess", "broad_excess")),
    Fault(
        "high-pass 65/90 Hz",
        passes(65.0, 90.0),
        -1,
        (20.0, 110.0),
        LOWS,
        ("sub_lack", "broad_lack"),
    ),
    Fault("highs -8/-12", two(high_shelf_db, 4000.0, -8.0, -12.0), -1, (4000.0, 16000.0), ("high_shelf",), ("too_dark", "broad_lack")),
    Fault("highs +8/+12", two(high_shelf_db, 6000.0, 8.0, 12.0), 1, (4500.0, 16000.0), ("high_shelf",), ("too_bright", "broad_excess")),
)


@dataclass(frozen=True)
class Song:
    """A song as it is and with each fault and size, and its spectrogram for what is planted narrower."""

    group: str
    spectrogram: Spectrogram
    spectrum: Spectrum
    faulty: Mapping[tuple[str, int], Spectrum]


def planted(song: Spectrogram, response: Response) -> Spectrogram:
    """Return the song filtered: exact in twelfth octaves and bins, and in third octaves weighted by what is there."""
    spread = 10 ** np.linspace(-0.0125, 0.0125, 9)
    gains = np.mean(10 ** (response(song.detail_hz[:, None] * spread) / 10), axis=1)
    detail = 10 ** (song.detail_db.astype(np.float64) / 10)
    shape = (len(detail), -1, 4)
    band = (detail * gains).reshape(shape).sum(axis=2) / np.maximum(detail.reshape(shape).sum(axis=2), 1e-20)
    gain = band.astype(np.float32)
    fine = 10 ** (response(np.maximum(song.fine_hz, 1.0)) / 10)
    return replace(
        song,
        left=song.left * gain,
        right=song.right * gain,
        cross=song.cross * gain,
        detail_db=(10 * np.log10(np.maximum(detail * gains, 1e-20))).astype(np.float16),
        fine_left=song.fine_left * fine,
        fine_right=song.fine_right * fine,
        fine_cross=song.fine_cross * fine,
    )


def middle_power(path: Path) -> tuple[NDArray[np.float32], float, int]:
    """Return the band power of 40 s from the middle of a song, as separation takes it; hop in s; rate."""
    with sf.SoundFile(path) as file:
        frames = min(file.frames, round(PARTS_S * file.samplerate))
        file.seek((file.frames - frames) // 2)
        samples = np.ascontiguousarray(file.read(frames, dtype="float32", always_2d=True).T[:2])
        meter = BandPower(file.samplerate, len(samples))
        return np.concatenate([meter.push(samples), meter.finish()]), meter.hop / file.samplerate, file.samplerate


def planted_parts(parts: PartCurves, power: NDArray[np.float32], hop_s: float, rate_hz: int, response: Response) -> PartCurves:
    """Return the parts' curves as separation gives them of the filtered song; how they change is read off the power given."""
    spread = 10 ** np.linspace(-0.025, 0.025, 9)
    gains = np.mean(10 ** (response(sixth_octaves(rate_hz).centre_hz[:, None] * spread) / 10), axis=1).astype(np.float32)

    def curves(band_power: NDArray[np.float32]) -> list[Floats]:
        parts = separate(band_power, hop_s)
        return [part.sum(axis=0, dtype=np.float64).reshape(-1, 2).sum(axis=1) + 1e-20 for part in (parts.percussive, parts.sustained)]

    changes = [after / before for before, after in zip(curves(power), curves(power * gains), strict=True)]
    return PartCurves(parts.band_hz, parts.percussive * changes[0], parts.sustained * changes[1])


def song_of(path: Path) -> Song:
    sound: SongSound = sound_of(path)
    middle = middle_power(path)
    faulty = {
        (fault.name, size): measure_spectrum(planted(sound.spectrogram, response), planted_parts(sound.parts, *middle, response))
        for fault in FAULTS
        for size, response in enumerate(fault.sizes)
    }
    return Song(path.parent.name, sound.spectrogram, measure_spectrum(sound.spectrogram, sound.parts), faulty)


def sign_of(claim: Bell | Shelf) -> int:
    return 1 if (claim.gain_db if isinstance(claim, Bell) else claim.strength) > 0 else -1


def claims(balance: Balance) -> list[Bell | Shelf]:
    """Return bells and shelves, the strongest first."""
    every: list[Bell | Shelf] = [*balance.bells, *balance.shelves]
    return sorted(every, key=lambda correction: -abs(correction.strength))


def threshold_for(natural: Sequence[Sequence[Bell | Shelf]], rate: float) -> float:
    """Return the strength above which songs as they are bring so many claims a song."""
    strengths = np.sort([abs(claim.strength) for song in natural for claim in song])[::-1]
    return float(strengths[min(round(rate * len(natural)), len(strengths) - 1)])


def share_found(fault: Fault, songs: Sequence[Sequence[Bell | Shelf]], threshold: float) -> float:
    hits = [
        any(fault.named_by(claim) for claim in [correction for correction in song if abs(correction.strength) > threshold][:TOP])
        for song in songs
    ]
    return float(np.mean(hits))


def report(label: str, natural: Sequence[list[Bell | Shelf]], faulty: Mapping[tuple[str, int], Sequence[list[Bell | Shelf]]]) -> None:
    """Print what is found at thresholds that keep so many false claims a song."""
    for rate in FALSE_CLAIMS_A_SONG:
        threshold = threshold_for(natural, rate)
        cells, shares = [], np.zeros((len(FAULTS), 2))
        for row, fault in enumerate(FAULTS):
            shares[row] = [share_found(fault, faulty[fault.name, size], threshold) for size in range(2)]
            cells.append(f"{100 * shares[row, 0]:.0f} / {100 * shares[row, 1]:.0f} %")
        means = 100 * shares.mean(axis=0)
        print(f"| {label} | {rate} | {threshold:.2f} | {' | '.join(cells)} | {means[0]:.0f} / {means[1]:.0f} % |", flush=True)


def rates(songs: Sequence[Song], also: Sequence[Song], by_collection: bool) -> None:
    print(f"| judged by | false claims a song | strength above | {' | '.join(fault.name for fault in FAULTS)} | mean |")
    print(f"|{'---|' * (len(FAULTS) + 4)}")
    for title, judged in (("", songs), (", others' songs", also)):
        if not judged:
            continue
        models = [model_for(songs, song, by_collection) for song in judged]
        for label, stripped in ((f"spectrum alone{title}", True), (f"parts together{title}", False)):
            used = [replace(model, part_covariance=None) if stripped else model for model in models]
            natural = [claims(measure_balance(song.spectrum, model)) for song, model in zip(judged, used, strict=True)]
            faulty = {
                key: [claims(measure_balance(song.faulty[key], model)) for song, model in zip(judged, used, strict=True)]
                for key in judged[0].faulty
            }
            report(label, natural, faulty)
        by_rules(f"rules{title}", judged, models)


def by_rules(label: str, songs: Sequence[Song], models: Sequence[TargetModel]) -> None:
    """Print what the rules say of songs as they are, and which faults they name."""
    pairs = list(zip(songs, models, strict=True))
    natural = [accusations_of(song.spectrum, measure_balance(song.spectrum, model), model.record) for song, model in pairs]
    false = [finding for findings in natural for _, finding in findings]
    sure = sum(finding.confidence != "low" for finding in false)
    cells, shares = [], np.zeros((len(FAULTS), 2))
    for row, fault in enumerate(FAULTS):
        parts = []
        for size in range(2):
            findings_of_songs = [
                accusations_of(spectrum := song.faulty[fault.name, size], measure_balance(spectrum, model), model.record)
                for song, model in pairs
            ]
            hits = [names_it(findings, fault.rules, fault.band_hz, TOP) for findings in findings_of_songs]
            shares[row, size] = np.mean([hit is not None for hit in hits])
            more = np.mean([hit is not None and hit.confidence != "low" for hit in hits])
            parts.append(f"{100 * shares[row, size]:.0f} ({100 * more:.0f})")
        cells.append(" / ".join(parts) + " %")
    rates = f"{len(false) / len(songs):.2f} ({sure / len(songs):.2f})"
    means = 100 * shares.mean(axis=0)
    print(f"| {label} | {rates} | - | {' | '.join(cells)} | {means[0]:.0f} / {means[1]:.0f} % |", flush=True)


def model_for(songs: Sequence[Song], judged: Song, by_collection: bool) -> TargetModel:
    """Return a target made of the other songs, or of the other collections."""
    others = [song for song in songs if song is not judged and not (by_collection and song.group == judged.group)]
    return model_of([song.spectrum for song in others], [song.group for song in others], "leave one out")


def resonances(songs: Sequence[Song]) -> None:
    natural = sum(len(song.spectrum.resonances) for song in songs) / len(songs)
    print(f"resonances: {natural:.2f} a song with nothing planted; Q 8, +8 dB planted at")
    for frequency_hz in RESONANCES_HZ:
        narrow = partial(bell_db, centre_hz=frequency_hz, q=8.0, gain_db=8.0)
        spectra = [measure_spectrum(planted(song.spectrogram, narrow)) for song in songs]
        hits = [
            [resonance for resonance in spectrum.resonances if abs(np.log2(resonance.frequency_hz / frequency_hz)) < 1 / 10]
            for spectrum in spectra
        ]
        sharpness = [resonance.q for row in hits for resonance in row[:1]]
        said = f"{np.median(sharpness):.1f}" if sharpness else "-"
        print(f"    {frequency_hz:.0f} Hz: {100 * np.mean([bool(row) for row in hits]):.0f} % found, Q said: median {said}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--leave-out", choices=("song", "collection"), default="song")
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--also", nargs="*", default=())
    parser.add_argument("--resonances", action="store_true")
    options = parser.parse_args()
    paths = songs_in(options.songs)
    songs = [
        song_of(path) for path in paths if path.parent.name not in options.also and (not options.only or path.parent.name in options.only)
    ]
    also = [song_of(path) for path in paths if path.parent.name in options.also]
    print(f"{len(songs)} songs, leaving out the {options.leave_out}; {len(also)} others")
    rates(songs, also, options.leave_out == "collection")
    if options.resonances:
        resonances(songs)


if __name__ == "__main__":
    main()
