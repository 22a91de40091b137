"""How many planted bells and resonances are found in real songs, and how often something is found that nobody planted.

    python tests/benchmarks/bell_detection.py --songs DIR [--leave-out collection]

DIR holds one folder of songs per collection. Each song is judged by a target made from the other songs (or the other
collections). Bells are planted on the whole mix, at Q 1 unless said otherwise.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from docs.make_target_table import songs_in, spectrogram_of
from features.balance import bell_db, measure_balance
from features.measurements import Bell, Spectrum
from features.spectrogram import Spectrogram
from features.spectrum import measure_spectrum
from features.target import TargetModel, prior, tabulate

Floats = NDArray[np.float64]

FREQUENCIES_HZ = (250.0, 550.0, 3200.0)
GAINS_DB = (7.0, 11.0, -7.0, -11.0)
RESONANCES_HZ = (200.0, 500.0, 1000.0, 2000.0, 4000.0)
FALSE_PEAKS_A_SONG = (0.1, 0.3, 0.6, 1.0)


@dataclass(frozen=True)
class Song:
    """A song as it is, and where it comes from."""

    group: str
    spectrogram: Spectrogram
    spectrum: Spectrum


def planted(song: Spectrogram, frequency_hz: float, q: float, gain_db: float) -> Spectrogram:
    """Return the song with a bell on it: exact in twelfth octaves and bins, and in third octaves weighted by what is there."""
    spread = 10 ** np.linspace(-0.0125, 0.0125, 9)
    gains = np.mean(10 ** (bell_db(song.detail_hz[:, None] * spread, frequency_hz, q, gain_db) / 10), axis=1)
    detail = 10 ** (song.detail_db.astype(np.float64) / 10)
    shape = (len(detail), -1, 4)
    band = (detail * gains).reshape(shape).sum(axis=2) / np.maximum(detail.reshape(shape).sum(axis=2), 1e-20)
    gain = band.astype(np.float32)
    fine = 10 ** (bell_db(np.maximum(song.fine_hz, 1.0), frequency_hz, q, gain_db) / 10)
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


def model_without(songs: list[Song], left_out: Callable[[int], bool]) -> TargetModel:
    kept = [song for number, song in enumerate(songs) if not left_out(number)]
    tilts = [song.spectrum.tilt_db_per_octave or 0.0 for song in kept]
    curves = np.array([song.spectrum.third_octave_db for song in kept])
    band_hz = np.array(kept[0].spectrum.third_octave_hz)
    return prior(tabulate(curves, np.array(tilts), band_hz, [song.group for song in kept]), "leave one out")


def near(bell: Bell, frequency_hz: float, gain_db: float) -> bool:
    return abs(np.log2(bell.frequency_hz / frequency_hz)) <= 1 / 3 + 1e-9 and bell.gain_db * gain_db > 0


def report(name: str, sign: int, natural: list[tuple[Bell, ...]], found: dict[tuple[float, float], list[tuple[Bell, ...]]]) -> None:
    """Print the hit rates at thresholds that keep so many false peaks a song; peaks of one sign, or of both (0)."""

    def counted(bells: tuple[Bell, ...]) -> list[Bell]:
        return [bell for bell in bells if bell.gain_db * sign >= 0]

    strengths = np.sort([bell.strength for bells in natural for bell in counted(bells)])[::-1]
    for rate in FALSE_PEAKS_A_SONG:
        threshold = strengths[min(round(rate * len(natural)), len(strengths) - 1)]
        cells, gains, sharpness = [], [], []
        for (frequency_hz, gain_db), songs in found.items():
            if gain_db * sign < 0:
                continue
            hits = [
                next(
                    (bell for bell in [b for b in counted(bells) if b.strength > threshold][:3] if near(bell, frequency_hz, gain_db)), None
                )
                for bells in songs
            ]
            got = [bell for bell in hits if bell is not None]
            cells.append(f"{frequency_hz:.0f}/{gain_db:+.0f}: {100 * len(got) / len(songs):.0f} %")
            gains.append(f"{np.median([bell.gain_db for bell in got]):+.1f}" if got else "-")
            sharpness += [bell.q for bell in got]
        print(f"{name}, {rate} false a song, strength > {threshold:.2f}: {', '.join(cells)}")
        print(f"    gain said (median): {' '.join(gains)}; Q said: median {np.median(sharpness):.2f}")


def bells(songs: list[Song], by_collection: bool) -> None:
    natural: list[tuple[Bell, ...]] = []
    found: dict[tuple[float, float], list[tuple[Bell, ...]]] = {}
    for number, song in enumerate(songs):
        group = song.group
        model = model_without(songs, lambda other, n=number, g=group: songs[other].group == g if by_collection else other == n)  # type: ignore[misc]
        natural.append(measure_balance(song.spectrum, model).bells)
        for frequency_hz in FREQUENCIES_HZ:
            for gain_db in GAINS_DB:
                spectrum = measure_spectrum(planted(song.spectrogram, frequency_hz, 1.0, gain_db))
                found.setdefault((frequency_hz, gain_db), []).append(measure_balance(spectrum, model).bells)
    report("rises", 1, natural, found)
    report("hollows", -1, natural, found)
    report("both", 0, natural, found)


def resonances(songs: list[Song]) -> None:
    natural = sum(len(song.spectrum.resonances) for song in songs) / len(songs)
    print(f"resonances: {natural:.2f} a song with nothing planted; Q 8, +8 dB planted at")
    for frequency_hz in RESONANCES_HZ:
        spectra = [measure_spectrum(planted(song.spectrogram, frequency_hz, 8.0, 8.0)) for song in songs]
        hits = [[one for one in spectrum.resonances if abs(np.log2(one.frequency_hz / frequency_hz)) < 1 / 10] for spectrum in spectra]
        sharpness = [one.q for row in hits for one in row[:1]]
        said = f"{np.median(sharpness):.1f}" if sharpness else "-"
        print(f"    {frequency_hz:.0f} Hz: {100 * np.mean([bool(row) for row in hits]):.0f} % found, Q said: median {said}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--leave-out", choices=("song", "collection"), default="song")
    options = parser.parse_args()
    songs = []
    for path in songs_in(options.songs):
        spectrogram = spectrogram_of(path)
        songs.append(Song(path.parent.name, spectrogram, measure_spectrum(spectrogram)))
    print(f"{len(songs)} songs, leaving out the {options.leave_out}")
    bells(songs, options.leave_out == "collection")
    resonances(songs)


if __name__ == "__main__":
    main()
