"""Faults put into real songs: with numpy and scipy alone, none of our own processors, so that finding and mending them proves something.

A song is a folder of stems, and its mix is their sum. Every planted mix is brought to a peak of -3 dBFS and written as 32-bit float.
"""

from dataclasses import dataclass
from pathlib import Path

import librosa
import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import signal

Floats = NDArray[np.float64]

DRUM_WORDS = ("kick", "snare", "clap", "hats", "cymbal", "drum", "conga", "perc")
PEAK_DBFS = -3.0
BELL_Q = 1.41  # an octave between the points of half the gain in dB
SHELF_Q = 0.71
SHELF_HZ = 60.0
APART_S = 4.0  # between planted strays
STRAY_S = 0.25
MOST_RAISED_DB = 40.0
STRIKES = 0.8  # share of the energy that librosa calls percussive


@dataclass(frozen=True, slots=True)
class Stems:
    """A song's stems, each of shape ``(frames, channels)``, float64."""

    name: str
    rate_hz: int
    stems: dict[str, Floats]
    drum_stems: frozenset[str]

    @property
    def drums(self) -> Floats:
        """The sum of all drum stems."""
        return self._sum(drums=True)

    @property
    def rest(self) -> Floats:
        """The sum of the others."""
        return self._sum(drums=False)

    @property
    def mix(self) -> Floats:
        """The sum of all stems."""
        return self.drums + self.rest

    @property
    def has_drums(self) -> bool:
        """Whether there are drum stems, and others."""
        return 0 < len(self.drum_stems) < len(self.stems)

    def _sum(self, *, drums: bool) -> Floats:
        whole: Floats = np.zeros_like(next(iter(self.stems.values())))
        for name, samples in self.stems.items():
            if (name in self.drum_stems) == drums:
                whole = whole + samples
        return whole


def strikes(name: str, samples: Floats) -> bool:
    """Whether a stem is drums: by its name, or, where the name says nothing, because nearly all of it strikes."""
    if any(word in name for word in DRUM_WORDS):
        return True
    if not name.startswith("i"):  # a numbered instrument of unknown role
        return False
    spectrum = np.abs(librosa.stft(samples.mean(axis=1).astype(np.float32)))
    sustained, struck = librosa.decompose.hpss(spectrum)
    return float(np.sum(struck**2) / np.sum(struck**2 + sustained**2)) > STRIKES


def read_stems(folder: Path) -> Stems:
    stems: dict[str, Floats] = {}
    rate_hz = 0
    for path in sorted((folder / "stems").glob("*.flac")):
        stems[path.stem], rate_hz = soundfile.read(path, dtype="float64", always_2d=True)
    return Stems(folder.name, rate_hz, stems, frozenset(name for name, samples in stems.items() if strikes(name, samples)))


def write(path: Path, samples: Floats, rate_hz: int) -> float:
    """Write the mix at a peak of -3 dBFS; return the gain in dB that took."""
    gain = 10 ** (PEAK_DBFS / 20) / float(np.abs(samples).max())
    soundfile.write(path, (samples * gain).astype(np.float32), rate_hz, subtype="FLOAT")
    return float(20 * np.log10(gain))


def bell(samples: Floats, rate_hz: int, hz: float, gain_db: float, q: float = BELL_Q) -> Floats:
    """Audio EQ cookbook (R. Bristow-Johnson): peaking equaliser."""
    a, w = 10 ** (gain_db / 40), 2 * np.pi * hz / rate_hz
    alpha = np.sin(w) / (2 * q)
    above = np.array([1 + alpha * a, -2 * np.cos(w), 1 - alpha * a])
    below = np.array([1 + alpha / a, -2 * np.cos(w), 1 - alpha / a])
    done: Floats = signal.lfilter(above / below[0], below / below[0], samples, axis=0)
    return done


def low_shelf(samples: Floats, rate_hz: int, hz: float, gain_db: float, q: float = SHELF_Q) -> Floats:
    """Audio EQ cookbook (R. Bristow-Johnson): low shelf."""
    a, w = 10 ** (gain_db / 40), 2 * np.pi * hz / rate_hz
    root, cosine = 2 * np.sqrt(a) * np.sin(w) / (2 * q), np.cos(w)
    above = a * np.array([a + 1 - (a - 1) * cosine + root, 2 * (a - 1 - (a + 1) * cosine), a + 1 - (a - 1) * cosine - root])
    below = np.array([a + 1 + (a - 1) * cosine + root, -2 * (a - 1 + (a + 1) * cosine), a + 1 + (a - 1) * cosine - root])
    done: Floats = signal.lfilter(above / below[0], below / below[0], samples, axis=0)
    return done


def drums_down(song: Stems, gain_db: float) -> Floats:
    return song.rest + song.drums * 10 ** (gain_db / 20)


def strongest_drum(song: Stems) -> str:
    """Return the drum stem that peaks highest."""
    return max(sorted(song.drum_stems), key=lambda name: float(np.abs(song.stems[name]).max()))


def isolated_hits(stem: Floats, rate_hz: int, count: int) -> list[int]:
    """Return the frames of ``count`` strong hits of a stem, at least 4 s apart, in the song's order."""
    step = rate_hz // 200
    steps = len(stem) // step
    peaks = np.abs(stem[: steps * step]).max(axis=1).reshape(steps, step).max(axis=1)
    rises = [place for place in range(20, steps - 60) if peaks[place] == peaks[place - 10 : place + 20].max()]
    chosen: list[int] = []
    for place in sorted(rises, key=lambda number: -peaks[number]):
        if all(abs(place - other) * step >= APART_S * rate_hz for other in chosen):
            chosen.append(place)
        if len(chosen) == count:
            break
    return sorted(place * step for place in chosen)


def around_hits(song: Stems, count: int = 5) -> tuple[list[slice], Floats]:
    """Return the stretches of a few strong hits of the strongest drum stem, and how a gain comes and goes in each."""
    fade = song.rate_hz // 200
    ramp = np.concatenate((np.linspace(0, 1, fade), np.ones(round(STRAY_S * song.rate_hz)), np.linspace(1, 0, 4 * fade)))
    stem = song.stems[strongest_drum(song)]
    starts = (max(frame - 5 * fade, 0) for frame in isolated_hits(stem, song.rate_hz, count))
    return [slice(start, start + len(ramp)) for start in starts if start + len(ramp) <= len(stem)], ramp


def strays(song: Stems, gain_db: float, count: int = 5) -> tuple[Floats, list[float]]:
    """Return the mix with a few hits of the strongest drum stem raised, and when, in seconds."""
    stem, (stretches, ramp) = song.stems[strongest_drum(song)], around_hits(song, count)
    mix = song.mix.copy()
    for stretch in stretches:
        mix[stretch] += stem[stretch] * (10 ** (ramp * gain_db / 20) - 1.0)[:, None]
    return mix, [(stretch.start + 5 * (song.rate_hz // 200)) / song.rate_hz for stretch in stretches]


def strays_above(song: Stems, above_db: float, count: int = 5) -> Floats:
    """Return the mix with the same hits raised until each peaks ``above_db`` above the song's highest peak, which they cost of its room.

    Raised by a fixed amount, a drum that peaks under other sounds is no peak of the mix: 7 dB brought 0.1 to 4.7 dB in ten songs.
    """
    stem, (stretches, ramp) = song.stems[strongest_drum(song)], around_hits(song, count)
    mix = song.mix.copy()
    wanted = float(np.abs(mix).max()) * 10 ** (above_db / 20)
    for stretch in stretches:
        low_db, high_db = 0.0, MOST_RAISED_DB
        for _ in range(20):
            gain_db = (low_db + high_db) / 2
            raised = song.mix[stretch] + stem[stretch] * (10 ** (ramp * gain_db / 20) - 1.0)[:, None]
            low_db, high_db = (gain_db, high_db) if float(np.abs(raised).max()) < wanted else (low_db, gain_db)
        mix[stretch] = raised
    return mix
