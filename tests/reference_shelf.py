"""Reference songs for tests: as numbers, and as short sound files."""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from advisor.references.records import Reference, Song
from features.records.headline import Headline
from features.tone.target import general_target
from tests import signals

RATE_HZ = 44100
GENERAL = general_target().record
ORDINARY = {
    "tilt_db_per_octave": -5.5,
    "bass_db": 1.5,
    "ear_share": 0.23,
    "width_db": -6.0,
    "low_width_db": -15.0,
    "psr_db": 11.0,
    "crest_balance_db": 6.0,
    "hit_lift_db": 4.0,
}


def readings(changes: Mapping[str, float | None]) -> Headline:
    """Return ordinary readings, some of them changed."""
    values: dict[str, Any] = {**ORDINARY, **changes}
    return Headline(**values)


def song(headline: Mapping[str, float | None] | None = None, curve_db: NDArray[np.float64] | None = None, **changes: Any) -> Song:  # noqa: ANN401
    """Return a song; its curve is the general one plus ``curve_db``."""
    shape = np.array(GENERAL.third_octave_db) + (0.0 if curve_db is None else curve_db)
    ordinary = Song(
        duration_s=180.0, rate_hz=44100, channels=2, lossy=False, integrated_lufs=-10.0, true_peak_dbtp=-1.0, bandwidth_hz=None,
        percussive_share=0.4, third_octave_hz=GENERAL.third_octave_hz, third_octave_db=tuple(float(value) for value in shape),
        headline=readings(headline or {}),
    )  # fmt: skip
    return replace(ordinary, **changes)


def reference(name: str = "one", made: Song | None = None) -> Reference:
    """Return a song on a shelf; its hash is made from its name."""
    return Reference(hashlib.sha256(name.encode()).hexdigest(), f"{name}.wav", f"/music/{name}.wav", made or song())


def shelf(count: int, spread: float = 1.0, seed: int = 1) -> list[Reference]:
    """Return songs whose readings scatter normally, ``spread`` times as far as songs in general."""
    from advisor.references.comparison import prior_spreads  # noqa: PLC0415

    chance = np.random.default_rng(seed)
    made = []
    for number in range(count):
        moved = {
            name: float(value + spread * scale * chance.normal())
            for (name, value), scale in zip(ORDINARY.items(), prior_spreads(), strict=True)
        }
        made.append(reference(f"song {number:02d}", song(moved, chance.normal(0, 2.0 * spread, len(GENERAL.third_octave_db)))))
    return made


@lru_cache(signals.KEPT)
def beat(seed: int, duration_s: float = 12.0, rate_hz: int = RATE_HZ) -> NDArray[np.float32]:
    """Return a short piece with hits, a bass and a wide pad; every seed sounds different."""
    chance = np.random.default_rng(seed)
    frames = round(duration_s * rate_hz)
    time = np.arange(frames) / rate_hz
    bass = 0.15 * np.sin(2 * np.pi * (45.0 + 5.0 * (seed % 5)) * time)
    noise = chance.normal(size=(2, frames)) * (0.03 + 0.01 * (seed % 3))
    spectrum = np.fft.rfft(noise, axis=1)
    pad = np.fft.irfft(spectrum / np.maximum(np.fft.rfftfreq(frames, 1 / rate_hz) / 300.0, 0.3), frames, axis=1)
    since_hit = np.mod(time, 0.5)
    hits = 0.4 * np.exp(-since_hit / 0.05) * (chance.normal(size=frames) * 0.4 + np.sin(2 * np.pi * 55.0 * since_hit))
    whole = np.fft.rfft(bass + hits + 4.0 * pad, axis=1)
    whole[:, np.fft.rfftfreq(frames, 1 / rate_hz) > 15000.0] = 0.0  # as most of music, so that no codec takes anything away
    wave = np.fft.irfft(whole, frames, axis=1)
    played = np.asarray(0.7 * wave / np.abs(wave).max(), np.float32)
    played.setflags(write=False)  # tests share it
    return played


def write_song(path: Path, seed: int, duration_s: float = 12.0, gain_db: float = 0.0) -> Path:
    """Write such a piece as a file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, (beat(seed, duration_s) * signals.amplitude(gain_db)).T, RATE_HZ, subtype="PCM_24")
    return path
